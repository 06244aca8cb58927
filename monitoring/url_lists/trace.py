"""From a survival figure down to lots, deliveries, days and crews, and back up."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
