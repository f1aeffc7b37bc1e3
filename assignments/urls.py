"""Addresses of this package."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
