"""Who sees to what, the weekly letter, calendar addresses."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
