"""Plans of a project: versions, approval, documents."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
