"""Addresses of plans, and of the shop's shelf and words for them."""

from django.urls import path

from consults.plans import compare_views, shelf_views, views, words_views

urlpatterns = [
    path("cases/<int:pk>/plan/", views.plan_draft_view, name="plan-draft"),
    path("plans/<int:pk>/", views.plan_view, name="plan"),
    path("plans/<int:pk>/edit/", views.plan_edit, name="plan-edit"),
    path("plans/<int:pk>/days/", views.plan_days, name="plan-days"),
    path("plans/<int:pk>/words/", views.plan_words, name="plan-words"),
    path("plans/<int:pk>/actions/", views.action_new, name="action-new"),
    path("plans/<int:plan_pk>/actions/<int:pk>/", views.action_edit_view, name="action-edit"),
    path("plans/<int:plan_pk>/actions/<int:pk>/keep/", views.action_keep_view, name="action-keep"),
    path("plans/<int:pk>/issue/", views.plan_issue_view, name="plan-issue"),
    path("plans/<int:pk>/next-version/", views.plan_revise_view, name="plan-revise"),
    path("plans/<int:pk>/compare/", compare_views.plan_compare, name="plan-compare"),
    path("shop/words/", words_views.shop_words, name="shop-words"),
    path("shop/words/<slug:cause>/", words_views.shop_words_cause, name="shop-words-cause"),
    path("shop/shelf/", shelf_views.shelf, name="shelf"),
    path("shop/shelf/new/", shelf_views.shelf_new, name="shelf-new"),
    path("shop/shelf/<int:pk>/", shelf_views.shelf_edit, name="shelf-edit"),
    path("shop/shelf/<int:pk>/retire/", shelf_views.shelf_retire_view, name="shelf-retire"),
]
