"""Where everything is. Each app owns the paths below its own prefix."""

from django.urls import include, path

from .health import health

urlpatterns = [
    path("", include("refit.desk.urls")),
    path("account/", include("refit.accounts.urls")),
    path("p/", include("refit.portal.urls")),
    path("", include("refit.custody.urls")),
    path("told/", include("refit.notices.urls")),
    path("calendar/", include("refit.feeds.urls")),
    path("health", health, name="health"),
]

handler500 = "refit.trouble.say_trouble"
