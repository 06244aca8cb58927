"""The mix of a plan."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
