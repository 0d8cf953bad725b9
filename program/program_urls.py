"""Addresses of the program's own pages: rate, plan, deadlines, notices, submissions."""

from django.urls import path

urlpatterns: list[path] = []
