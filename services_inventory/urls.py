"""Addresses of this app's pages."""

from django.urls import path

urlpatterns: list[path] = []
