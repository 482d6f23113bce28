"""Addresses of the interview."""

from django.urls import path

from consults.interview import views

urlpatterns = [
    path("cases/<int:pk>/interview/", views.interview, name="interview"),
    path("cases/<int:pk>/interview/back/", views.interview_back, name="interview-back"),
]
