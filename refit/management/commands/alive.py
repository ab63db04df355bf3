"""``manage.py alive``: whether the schedule reached a worker lately, for the health check of beat.

Beat itself leaves no trace; what it asked for does. So this fails too while no worker runs.
"""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from refit.health import schedule_answer


class Command(BaseCommand):
    help = "Ends with 0 if the schedule reached a worker within the last minutes, else with 1."
    requires_system_checks = ()

    def handle(self, *args: Any, **options: Any) -> None:
        if (answer := schedule_answer()) != "ok":
            raise CommandError(f"The schedule: {answer}.")
        self.stdout.write("The schedule and a worker run.")
