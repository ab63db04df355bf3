"""The project as an app of its own: management commands and static files hang here."""

from django.apps import AppConfig


class RefitConfig(AppConfig):
    name = "refit"
    label = "refit"

    def ready(self) -> None:
        # Celery's shared tasks need an application before the first one is queued.
        from . import celery  # noqa: F401

        # A broken file of the library is told now, not when somebody first plans from it.
        from .work.processes import library

        library()
