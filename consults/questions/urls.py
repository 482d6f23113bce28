"""Addresses of the question log."""

from django.urls import path

from consults.questions import views

urlpatterns = [
    path("questions/", views.questions, name="questions"),
    path("questions/new/", views.question_new, name="question-new"),
    path("questions/<int:pk>/", views.question, name="question"),
    path("questions/<int:pk>/to-case/", views.question_to_case, name="question-to-case"),
]
