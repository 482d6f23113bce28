"""Addresses of the shop's settings and of its people."""

from django.urls import path

from consults.shop import staff_views as views

urlpatterns = [
    path("shop/", views.shop_settings, name="shop-settings"),
    path("shop/staff/", views.staff, name="staff"),
    path("shop/staff/new/", views.staff_new, name="staff-new"),
    path("shop/staff/<int:pk>/", views.staff_edit, name="staff-edit"),
    path("my-password/", views.OwnPassword.as_view(), name="my-password"),
]
