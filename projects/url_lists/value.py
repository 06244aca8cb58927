"""Purposes, benefits, carbon, the budget by season, seed trees and collections."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
