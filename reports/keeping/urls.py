"""Addresses of what is held about a grower."""

from django.urls import path

from reports.keeping import views

urlpatterns = [
    path("growers/<int:pk>/held/", views.grower_held, name="grower-held"),
    path("growers/<int:pk>/everything.zip", views.grower_export, name="grower-export"),
]
