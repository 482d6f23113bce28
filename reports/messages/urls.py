"""Addresses of the outbox."""

from django.urls import path

from reports.messages import views

urlpatterns = [
    path("messages/", views.message_list, name="messages"),
    path("messages/<int:message_id>/again/", views.message_again, name="message-retry"),
    path("plans/<int:plan_id>/sending/", views.plan_sending, name="plan-sending"),
]
