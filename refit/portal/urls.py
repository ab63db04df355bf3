"""Paths of `refit.portal`. Nothing behind ``/p/`` needs a password; everything needs a link."""

from django.urls import URLPattern, URLResolver, path

from . import deciding, offers, views

app_name = "portal"
urlpatterns: list[URLPattern | URLResolver] = [
    path("in/<str:token>", views.enter, name="enter"),
    path("<slug:public_id>/", views.page, name="page"),
    path("<slug:public_id>/seen", views.seen, name="seen"),
    path("<slug:public_id>/handoff/<int:pk>/ready", views.ready, name="ready"),
    path("<slug:public_id>/handoff/<int:pk>/not-ready", views.not_ready, name="not-ready"),
    path("<slug:public_id>/handoff/<int:pk>/new-date", views.new_date, name="new-date"),
    path("<slug:public_id>/handoff/<int:pk>/left", views.left, name="left"),
    path("<slug:public_id>/criterion/<int:pk>/reading", views.reading, name="reading"),
    path("<slug:public_id>/handoff/<int:pk>/arrived", views.arrived, name="arrived"),
    path("<slug:public_id>/offers/", offers.offers, name="offers"),
    path("<slug:public_id>/offers/<int:pk>/price", offers.offer, name="offer"),
    path("<slug:public_id>/offers/<int:pk>/pass", offers.offer_pass, name="offer-pass"),
    path("<slug:public_id>/orders/<int:pk>/agree", offers.order_agree, name="order-agree"),
    path("<slug:public_id>/orders/<int:pk>/paper", offers.order_paper, name="order-paper"),
    path("<slug:public_id>/changes/<int:pk>/decide", deciding.decide, name="decide"),
    path("<slug:public_id>/money/", deciding.money, name="money"),
]
