"""The Celery application. Tasks live in each app's ``tasks`` module; the schedule lives here.

The schedule knows intervals only, in UTC: a clock time in a local zone skips or repeats when the
clocks change. What is due at 07:00 somewhere is a moment in the database that a sweep finds.
A sweep that nobody could run expires: the next one does its work.
"""

import os

from celery import Celery
from django.conf import settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "refit.settings")

app = Celery("refit")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.conf.beat_scheduler = "celery.beat:Scheduler"
"""Intervals of seconds need no memory of the last run on disk."""
app.conf.beat_schedule = {
    name: {"task": task, "schedule": seconds, "options": {"expires": seconds}}
    for name, task, seconds in (
        ("send what is due", "refit.notices.tasks.sweep_outbox", settings.SWEEP_SECONDS),
        ("find what is to be told", "refit.notices.tasks.plan_reminders", settings.LOOK_SECONDS),
        ("plan again what is stale", "refit.planning.tasks.replan_stale", settings.LOOK_SECONDS),
        ("let trips follow plans", "refit.trips.tasks.follow_plans", settings.LOOK_SECONDS),
        ("say how sure plans are", "refit.planning.tasks.weigh_unweighed", settings.LOOK_SECONDS),
        ("throw away what is past keeping", "refit.notices.tasks.tidy", 3600.0),
        ("write calendars anew", "refit.feeds.tasks.refresh_feeds", settings.LOOK_SECONDS),
    )
}
app.autodiscover_tasks()
