"""Paths of `refit.notices`: the door of a letter, stopping, the wishes of owner and vendors."""

from django.urls import URLPattern, URLResolver, path

from . import views

app_name = "notices"
urlpatterns: list[URLPattern | URLResolver] = [
    path("open/<str:token>", views.open_letter, name="open"),
    path("stop/<str:token>", views.stop, name="stop"),
    path("<slug:public_id>/", views.wishes, name="wishes"),
]
