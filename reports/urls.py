"""Addresses of documents, messages, and what is kept."""

from django.urls import include, path

urlpatterns = [
    path("", include("reports.documents.urls")),
    path("", include("reports.keeping.urls")),
    path("", include("reports.messages.urls")),
]
