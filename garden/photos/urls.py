"""Addresses of photos. Nothing else serves them."""

from django.urls import path

from garden.photos import views

urlpatterns = [
    path("photos/<int:pk>/", views.photo, name="photo"),
    path("photos/<int:pk>/thumb/", views.photo_thumb, name="photo-thumb"),
    path("photos/<int:pk>/delete/", views.photo_delete, name="photo-delete"),
]
