"""Paths of `refit.custody`: pictures and receipts, checked at every request."""

from django.urls import URLPattern, URLResolver, path

from . import views

app_name = "custody"
urlpatterns: list[URLPattern | URLResolver] = [
    path("pictures/<int:pk>", views.picture, name="picture"),
    path("pictures/<int:pk>/small", views.picture, {"small": True}, name="picture-small"),
    path("receipts/<int:pk>.pdf", views.receipt, name="receipt"),
]
