"""Paths of the picture, below ``/r/<slug>/``."""

from django.urls import path

from .views import whereabouts

urlpatterns = [path("whereabouts/", whereabouts, name="whereabouts")]
