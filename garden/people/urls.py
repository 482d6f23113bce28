"""Addresses of growers and their gardens."""

from django.urls import path

from garden.people import views

urlpatterns = [
    path("growers/", views.growers, name="growers"),
    path("growers/new/", views.grower_new, name="grower-new"),
    path("growers/<int:pk>/", views.grower, name="grower"),
    path("growers/<int:pk>/edit/", views.grower_edit, name="grower-edit"),
    path("growers/<int:pk>/gardens/new/", views.garden_new, name="garden-new"),
    path("gardens/<int:pk>/edit/", views.garden_edit, name="garden-edit"),
]
