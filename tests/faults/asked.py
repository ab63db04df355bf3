"""Run in a process of its own: a vendor presses a button while the broker is as the settings say.

Prints one JSON object: how long the answer took, its status, whether what was said is stored, and
whether a letter about it is written and goes when a worker looks (without asking the broker).
"""

from __future__ import annotations

import json
import os
import time

import django


def ask() -> dict[str, object]:
    from django.core import mail
    from django.core.management import call_command
    from django.test import Client
    from django.test.utils import setup_test_environment
    from django.urls import reverse
    from django.utils import timezone

    from refit import nudges
    from refit.accounts.models import LinkKind
    from refit.accounts.services import issue_link
    from refit.custody.models import Handoff, HandoffState
    from refit.demo.load import load_demo
    from refit.notices.models import Letter
    from refit.notices.sending import send_letter
    from refit.notices.services import write_notices
    from refit.planning.models import Plan
    from refit.work.models import Refit

    setup_test_environment()
    call_command("migrate", verbosity=0)
    load_demo(now=timezone.now())
    refit = Refit.objects.get()
    # It is never night there, and the plan takes so long that it is left to the worker.
    Refit.objects.update(time_zone=f"Etc/GMT{timezone.now().hour - 12:+d}")
    Plan.objects.update(seconds=60)
    handoff = Handoff.objects.filter(
        state=HandoffState.PLANNED, origin__vendor__isnull=False
    ).select_related("origin__vendor", "piece")[0]
    link, token = issue_link(
        refit=refit, kind=LinkKind.VENDOR, vendor=handoff.origin.vendor, now=timezone.now()
    )
    client = Client()
    client.get(reverse("portal:enter", args=[token]))
    began = time.monotonic()
    answer = client.post(reverse("portal:ready", args=[link.public_id, handoff.pk]))
    seconds = [time.monotonic() - began]
    handoff.refresh_from_db()
    refit.refresh_from_db()
    write_notices(refit=refit, now=timezone.now())
    due = Letter.objects.due(timezone.now()).filter(notices__kind="ready")
    sent = sum(send_letter(letter_id=pk) for pk in list(due.values_list("pk", flat=True)))
    # Planned within the request: several things are left to the worker then.
    Plan.objects.update(seconds=0.01)
    nudges._away_until = 0.0
    began = time.monotonic()
    client.post(reverse("portal:not-ready", args=[link.public_id, handoff.pk]))
    seconds.append(time.monotonic() - began)
    return {
        "seconds": seconds,
        "status": answer.status_code,
        "state": handoff.state,
        "sent": sent,
        "said": [message.subject for message in mail.outbox],
    }


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "refit.settings")
    django.setup()
    print(json.dumps(ask()))
