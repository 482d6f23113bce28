"""Addresses of the kept answers."""

from django.urls import path

from consults.answers import views

urlpatterns = [
    path("bench/<slug:tool>/keep/", views.answer_offer, name="answer-offer"),
    path("cases/<int:pk>/answers/", views.answer_keep_view, name="answer-keep"),
    path("cases/<int:case_pk>/answers/<int:pk>/plan/", views.answer_into_plan_view, name="answer-into-plan"),
]
