"""Run in a process of its own: an installation in which ``PEOPLE`` managers are owed reminders.

``python -m tests.faults.fill``, with the settings of the processes that shall send them. Nothing
is put into the outbox here: the worker has to find what is to be told by itself.
"""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta

REFITS, MANAGERS_EACH, DECISIONS_EACH = 10, 10, 10
REMINDERS = REFITS * MANAGERS_EACH * DECISIONS_EACH


def a_zone_where_it_is_noon(now: datetime) -> str:
    """Mail waits at night; here it never is. (The sign of these names is turned round: POSIX.)"""
    return f"Etc/GMT{now.hour - 12:+d}"


def fill() -> None:
    from django.core.management import call_command

    from refit.accounts.models import Membership, Role, User
    from refit.quality.models import Finding
    from refit.work.models import Boat, Refit

    call_command("migrate", verbosity=0)
    now = datetime.now(UTC)
    for number in range(REFITS):
        refit = Refit.objects.create(
            boat=Boat.objects.create(name="Sallow Tern"),
            name="Pilothouse refit",
            slug=f"pilothouse-{number}",
            start=now.date(),
            time_zone=a_zone_where_it_is_noon(now),
        )
        for hand in range(MANAGERS_EACH):
            user = User.objects.create(
                email=f"manager{number}-{hand}@refit.example", name=f"Manager {number}-{hand}"
            )
            Membership.objects.create(user=user, refit=refit, role=Role.MANAGER)
        Finding.objects.bulk_create(
            Finding(
                refit=refit, code=f"N{index}", title="Soft core", found_at=now,
                decide_by=now + timedelta(hours=8),
            )
            for index in range(DECISIONS_EACH)
        )  # fmt: skip


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.faults.worker_settings")
    import django

    django.setup()
    fill()
