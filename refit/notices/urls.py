"""Paths of `refit.notices`: the door of a letter, stopping, wishes of the parties, mailed codes."""

from django.urls import URLPattern, URLResolver, path

from . import link_codes, views

app_name = "notices"
urlpatterns: list[URLPattern | URLResolver] = [
    path("open/<str:token>", views.open_letter, name="open"),
    path("stop/<str:token>", views.stop, name="stop"),
    path("<slug:public_id>/code", link_codes.code, name="code"),
    path("<slug:public_id>/code/send", link_codes.code_send, name="code-send"),
    path("<slug:public_id>/", views.wishes, name="wishes"),
]
