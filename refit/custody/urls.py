"""Paths of `refit.custody`: pictures, checked at every request."""

from django.urls import URLPattern, URLResolver, path

from . import views

app_name = "custody"
urlpatterns: list[URLPattern | URLResolver] = [
    path("<int:pk>", views.picture, name="picture"),
    path("<int:pk>/small", views.picture, {"small": True}, name="picture-small"),
]
