"""Addresses of documents."""

from django.urls import path

from reports.documents import views

urlpatterns = [
    path("plans/<int:plan_id>/plan.pdf", views.plan_pdf, name="plan-pdf"),
    path("plans/<int:plan_id>/document/", views.plan_document, name="plan-document"),
    path("plans/<int:plan_id>/document/again/", views.plan_document_again, name="plan-document-again"),
]
