"""Price lists, stock types compared, quantities, seed calculations."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
