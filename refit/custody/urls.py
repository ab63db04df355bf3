"""Paths of `refit.custody`."""

from django.urls import URLPattern, URLResolver

app_name = "custody"
urlpatterns: list[URLPattern | URLResolver] = []
