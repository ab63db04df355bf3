"""Paths of `refit.feeds`."""

from django.urls import URLPattern, URLResolver

app_name = "feeds"
urlpatterns: list[URLPattern | URLResolver] = []
