"""Paths of `refit.feeds`."""

from django.urls import URLPattern, URLResolver, path

from . import views

app_name = "feeds"
urlpatterns: list[URLPattern | URLResolver] = [
    path("<str:token>.ics", views.feed, name="feed"),
]
