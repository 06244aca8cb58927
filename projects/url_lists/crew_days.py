"""Planting days as they are prepared, decided on and closed; quality checks."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
