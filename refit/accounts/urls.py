"""Paths of `refit.accounts`."""

from django.urls import URLPattern, URLResolver, path

from . import second_factor_views, views

app_name = "accounts"
urlpatterns: list[URLPattern | URLResolver] = [
    path("sign-in", views.sign_in_page, name="sign-in"),
    path("sign-out", views.sign_out, name="sign-out"),
    path("first", views.first_account, name="first-account"),
    path("password", views.change_password, name="password"),
    path("code", second_factor_views.code_page, name="code"),
    path("second-factor", second_factor_views.second_factor, name="second-factor"),
    path("second-factor/start", second_factor_views.start, name="second-factor-start"),
    path("second-factor/on", second_factor_views.switch_on, name="second-factor-on"),
    path("second-factor/recovery", second_factor_views.recovery, name="second-factor-recovery"),
    path("second-factor/off", second_factor_views.turn_off, name="second-factor-off"),
]
