"""Addresses of the case room."""

from django.urls import path

from consults.cases import views

urlpatterns = [
    path("cases/", views.cases, name="cases"),
    path("cases/new/", views.case_new, name="case-new"),
    path("cases/<int:pk>/", views.case, name="case"),
    path("cases/<int:pk>/deeper/", views.case_deeper, name="case-deeper"),
    path("cases/<int:pk>/story/", views.case_story, name="case-story"),
    path("cases/<int:pk>/findings/<slug:code>/", views.case_finding, name="case-finding"),
    path("cases/<int:pk>/words/<slug:code>/", views.case_suggestion, name="case-suggestion"),
    path("cases/<int:pk>/practices/", views.case_practices, name="case-practices"),
    path("cases/<int:pk>/readings/<slug:code>/", views.case_reading, name="case-reading"),
    path("cases/<int:pk>/photos/", views.case_photos, name="case-photos"),
    path("cases/<int:pk>/confirm/", views.case_confirm_view, name="case-confirm"),
    path("cases/<int:pk>/reopen/", views.case_reopen_view, name="case-reopen"),
    path("growers/<int:pk>/cases/", views.grower_cases, name="grower-cases"),
    path("cases/<int:pk>/case-file.json", views.case_file, name="case-file"),
]
