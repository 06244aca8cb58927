"""What decides whether a crew plants today."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
