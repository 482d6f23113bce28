"""Addresses of the rules of diagnosis."""

from django.urls import path

from consults.rules import views

urlpatterns = [
    path("rules/", views.rules, name="rules"),
    path("rules/publish/", views.rules_publish, name="rules-publish"),
    path("rules/export/", views.rules_export, name="rules-export"),
]
