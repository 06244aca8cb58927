"""Deliveries, hand-over checks, lots split and merged, giving out."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
