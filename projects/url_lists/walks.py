"""Walk-throughs and what befell a site."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
