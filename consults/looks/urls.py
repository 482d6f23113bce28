"""Addresses of looks afterwards, and of the check-in that growers reach by a link."""

from django.urls import path

from consults.looks import views, views_public

urlpatterns = [
    path("looks/", views.looks, name="follow-ups"),
    path("looks/<int:pk>/", views.look, name="follow-up"),
    path("looks/<int:pk>/record/", views.look_record_view, name="look-record"),
    path("looks/<int:pk>/check-in/", views.look_check_in, name="look-check-in"),
    path("looks/<int:pk>/link/", views.look_link, name="look-link"),
    path("outcomes/<int:pk>/correct/", views.outcome_correct_view, name="outcome-correct"),
    # For growers, who do not sign in.
    path("check-in/<str:token>/", views_public.check_in, name="check-in"),
    path("check-in/<str:token>/sent/", views_public.check_in_sent, name="check-in-sent"),
]
