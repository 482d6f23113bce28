"""Addresses of the shop's own crop profiles."""

from django.urls import path

from garden.profiles import views

urlpatterns = [
    path("shop/profiles/", views.profiles, name="profiles"),
    path("shop/profiles/new/", views.profile_new, name="profile-new"),
    path("shop/profiles/<int:pk>/", views.profile_edit, name="profile-edit"),
    path("shop/profiles/<int:pk>/stages/<slug:stage>/", views.profile_stage, name="profile-stage"),
    path("shop/profiles/<int:pk>/delete/", views.profile_delete, name="profile-delete"),
]
