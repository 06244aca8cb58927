"""An organisation's own species and values."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
