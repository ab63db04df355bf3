"""Several people change one refit at the same time, and every one of them replans it."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection, transaction

from refit.custody.models import Handoff, HandoffState
from refit.planning.models import Plan, PlanState
from refit.planning.services import replan, settle
from refit.work.models import Refit, record
from tests.builders import A_MANAGER, NOW, a_dependency, a_package, a_piece, a_place, a_refit

PEOPLE, CHANGES = 4, 5


@pytest.mark.django_db(transaction=True)
def test_plans_made_at_once_leave_one_current_plan_and_one_handoff_a_way() -> None:
    refit = a_refit()
    shed, booth = a_place(refit, name="Shed"), a_place(refit, name="Booth")
    frame = a_piece(refit, place=shed)
    coat = a_package(refit, place=booth, pieces=[frame], minutes=60)
    a_dependency(coat, a_package(refit, place=shed, pieces=[frame], minutes=60))

    def work(person: int) -> None:
        try:
            for _ in range(CHANGES):
                mine = Refit.objects.get(pk=refit.pk)
                with transaction.atomic():
                    record(refit=mine, actor=A_MANAGER, now=NOW, verb="changed", subject=mine)
                settle(refit=mine, now=NOW)
        finally:
            connection.close()

    with ThreadPoolExecutor(PEOPLE) as pool:
        for finished in [pool.submit(work, person) for person in range(PEOPLE)]:
            finished.result()

    refit.refresh_from_db()
    assert refit.version == 1 + PEOPLE * CHANGES
    assert Plan.objects.filter(refit=refit, state=PlanState.CURRENT).count() == 1
    assert replan(refit=refit, now=NOW) is not None
    current = Plan.objects.current(refit)
    assert current is not None
    assert current.refit_version == refit.version
    ways = Handoff.objects.filter(state=HandoffState.PLANNED).values_list("origin", "destination")
    assert sorted(ways) == sorted([(shed.pk, booth.pk), (booth.pk, shed.pk)])
