"""Addresses of documents."""

from django.urls import path

from reports.documents import paper_views, views

urlpatterns = [
    path("plans/<int:plan_id>/plan.pdf", views.plan_pdf, name="plan-pdf"),
    path("plans/<int:plan_id>/document/", views.plan_document, name="plan-document"),
    path("plans/<int:plan_id>/document/again/", views.plan_document_again, name="plan-document-again"),
    path("plans/<int:plan_id>/mixing-card.pdf", paper_views.card_pdf, name="mixing-card-pdf"),
    path("plans/<int:plan_id>/recheck.pdf", paper_views.recheck_pdf, name="recheck-pdf"),
    path("plans/<int:plan_id>/letters/", paper_views.plan_letters, name="plan-letters"),
    path("cases/<int:pk>/summary.pdf", paper_views.summary_pdf, name="case-summary-pdf"),
    path("questions/<int:pk>/hand-out.pdf", paper_views.handout_pdf, name="hand-out-pdf"),
]
