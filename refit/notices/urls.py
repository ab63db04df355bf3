"""Paths of `refit.notices`: stopping from a mail, and the wishes of owner and vendors."""

from django.urls import URLPattern, URLResolver, path

from . import views

app_name = "notices"
urlpatterns: list[URLPattern | URLResolver] = [
    path("stop/<str:token>", views.stop, name="stop"),
    path("<slug:public_id>/", views.wishes, name="wishes"),
]
