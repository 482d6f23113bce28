"""Addresses of documents and messages."""

from django.urls import include, path

urlpatterns = [
    path("", include("reports.documents.urls")),
    path("", include("reports.messages.urls")),
]
