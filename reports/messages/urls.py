"""Addresses of the outbox."""

from django.urls import path

from reports.messages import views, views_public

urlpatterns = [
    path("messages/", views.message_list, name="messages"),
    path("messages/<int:message_id>/again/", views.message_again, name="message-retry"),
    path("plans/<int:plan_id>/sending/", views.plan_sending, name="plan-sending"),
    # What stands in mails, for people who do not sign in.
    path("reminders/stop/<str:token>/", views_public.reminders_stop, name="reminders-stop"),
    path(
        "reminders/stop/<str:token>/one-click/",
        views_public.reminders_stop_one_click,
        name="reminders-stop-one-click",
    ),
]
