"""Run in a process of its own: load the demo as of a given moment, plan it, print what came out.

``python -m tests.services.told 2026-11-25T09:00:00+00:00`` with ``REFIT_DATA`` and perhaps
``REFIT_DATABASE_URL``; prints one JSON object: the refit document and the plan.
"""

from __future__ import annotations

import json
import os
import sys
from datetime import datetime
from typing import Any

import django


def tell(now: datetime) -> dict[str, Any]:
    from django.core.management import call_command
    from django.db import connection

    from refit.demo.load import load_demo
    from refit.interchange.export import export_refit
    from refit.planning.models import Plan
    from refit.planning.services import replan
    from refit.work.models import Refit

    call_command("migrate", verbosity=0)
    load_demo(now=now)
    refit = Refit.objects.get()
    plan = replan(refit=refit, now=now)
    assert plan == Plan.objects.current(refit)
    assert plan is not None
    return {
        "engine": connection.vendor,
        "document": export_refit(refit),
        "plan": {
            "launch": plan.launch_at,
            "finish": plan.finish_at,
            "driving": plan.driving,
            "because": plan.because,
            "notes": plan.notes,
        },
        "packages": list(
            plan.packages.order_by("package__code").values(
                "package__code", "start", "work_finish", "finish", "slip_minutes", "drives",
                "cause_kind", "cause",
            )
        ),
        "moves": list(
            plan.moves.order_by("piece__tag", "depart").values(
                "piece__tag", "origin__name", "destination__name", "depart", "arrive", "leave_by",
                "after_package__code", "for_package__code",
            )
        ),
    }  # fmt: skip


if __name__ == "__main__":
    os.environ["DJANGO_SETTINGS_MODULE"] = "refit.settings"
    django.setup()
    print(json.dumps(tell(datetime.fromisoformat(sys.argv[1])), default=str, sort_keys=True))
