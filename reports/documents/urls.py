"""Addresses of documents."""

from django.urls import path

from reports.documents import views

urlpatterns = [
    path("plans/<int:plan_id>/plan.pdf", views.plan_pdf, name="plan-pdf"),
]
