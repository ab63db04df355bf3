"""The Celery application. Tasks live in each app's ``tasks`` module; the schedule lives here."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "refit.settings")

app = Celery("refit")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
