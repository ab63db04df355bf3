"""Deciding a finding."""

from __future__ import annotations

from typing import Any

import pytest

from refit.quality.models import Decision, Finding
from refit.quality.services import AlreadyDecided, decide_finding
from refit.work.models import JournalEntry
from tests.builders import A_MANAGER, NOW, a_refit

pytestmark = pytest.mark.django_db
WHO: Any = {"actor": A_MANAGER, "now": NOW}


def test_a_decision_is_kept_with_who_and_when_and_leaves_the_plan_alone() -> None:
    refit = a_refit()
    finding = Finding.objects.create(refit=refit, code="N1", title="Soft core", found_at=NOW)
    decide_finding(finding=finding, decision=Decision.WATCH, note="look in spring", **WHO)
    finding.refresh_from_db()
    assert (finding.decision, finding.decided_by, finding.decided_at, finding.note) == (
        Decision.WATCH,
        "Runa Ostlund",
        NOW,
        "look in spring",
    )
    assert JournalEntry.objects.get().after["decision"] == "watch"
    refit.refresh_from_db()
    assert refit.version == 1


def test_asking_the_owner_leaves_it_open() -> None:
    finding = Finding.objects.create(refit=a_refit(), code="N1", title="Soft core", found_at=NOW)
    decide_finding(finding=finding, decision=Decision.ASK_OWNER, **WHO)
    finding.refresh_from_db()
    assert finding.is_open
    assert finding.decided_at is None
    decide_finding(finding=finding, decision=Decision.FIX_NOW, **WHO)
    finding.refresh_from_db()
    assert not finding.is_open


def test_a_finding_is_decided_once() -> None:
    finding = Finding.objects.create(refit=a_refit(), code="N1", title="Soft core", found_at=NOW)
    decide_finding(finding=finding, decision=Decision.LEAVE, **WHO)
    with pytest.raises(AlreadyDecided, match="leave, by Runa Ostlund"):
        decide_finding(finding=finding, decision=Decision.FIX_NOW, **WHO)
