"""Aftercare as a schedule: tasks of a project or a person, done, put off, dropped."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
