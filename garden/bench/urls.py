"""Addresses of the bench."""

from django.urls import path

from garden.bench import views

urlpatterns = [
    path("bench/", views.bench, name="bench"),
    path("bench/<slug:code>/", views.bench_tool, name="bench-tool"),
]
