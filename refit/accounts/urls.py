"""Paths of `refit.accounts`."""

from django.urls import URLPattern, URLResolver, path

from . import views

app_name = "accounts"
urlpatterns: list[URLPattern | URLResolver] = [
    path("sign-in", views.sign_in_page, name="sign-in"),
    path("sign-out", views.sign_out, name="sign-out"),
    path("first", views.first_account, name="first-account"),
    path("password", views.change_password, name="password"),
]
