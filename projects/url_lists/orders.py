"""Stock orders: their lines, what is confirmed and promised, the sheet that is sent, and papers."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
