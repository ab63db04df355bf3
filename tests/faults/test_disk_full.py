"""No room left, the database away: a clear sentence, nothing half-stored, the file whole."""

from __future__ import annotations

import errno

import pytest
from django.db import InterfaceError, OperationalError, connection
from django.test import Client
from django.urls import reverse

from refit.desk import findings
from refit.quality.models import Finding
from refit.work.models import JournalEntry, Refit
from tests.builders import a_member, a_refit

pytestmark = pytest.mark.django_db(transaction=True)


def a_desk() -> tuple[Refit, Client]:
    refit = a_refit()
    desk = Client(raise_request_exception=False)
    desk.force_login(a_member(refit))
    return refit, desk


def typed(number: int) -> dict[str, str]:
    return {
        "code": f"F{number}",
        "title": "Soft core",
        "description": "wet " * 400,
        "severity": "repair",
        "found_at": "2026-11-25T09:00",
    }


@pytest.mark.skipif(connection.vendor != "sqlite", reason="only on SQLite")
def test_a_full_disk_is_said_and_leaves_the_file_whole() -> None:
    refit, desk = a_desk()
    path = reverse("desk:finding-add", args=[refit.slug])
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA page_count")
        # SQLite itself says that the disk is full once its file may not grow any more.
        cursor.execute(f"PRAGMA max_page_count = {cursor.fetchone()[0] + 8}")
    try:
        stored, answer = 0, None
        for number in range(60):
            answer = desk.post(path, typed(number))
            if answer.status_code != 302:
                break
            stored += 1
        assert answer is not None
        assert answer.status_code == 507, answer.content.decode()[:2000]
        assert "The disk of this machine is full" in answer.content.decode()
        assert stored > 0
        assert Finding.objects.count() == stored
        assert JournalEntry.objects.filter(subject_kind="finding").count() == stored
    finally:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA max_page_count = 1073741823")
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA integrity_check")
        assert cursor.fetchone()[0] == "ok"
    assert desk.post(path, typed(99)).status_code == 302


@pytest.mark.parametrize(
    ("problem", "status", "said"),
    [
        (OSError(errno.ENOSPC, "No space left on device"), 507, "disk of this machine is full"),
        (OperationalError("connection refused"), 503, "database does not answer"),
        (InterfaceError("connection already closed"), 503, "database does not answer"),
        (ValueError("odd"), 500, "Something went wrong here"),
    ],
)
def test_each_trouble_has_its_sentence(
    monkeypatch: pytest.MonkeyPatch, problem: Exception, status: int, said: str
) -> None:
    refit, desk = a_desk()

    def fail(*args: object, **kwargs: object) -> None:
        raise problem

    monkeypatch.setattr(findings, "render", fail)
    answer = desk.get(reverse("desk:findings", args=[refit.slug]))
    assert answer.status_code == status
    assert said in answer.content.decode()
    assert ("Retry-After" in answer.headers) == (status == 503)
    assert answer.headers["Content-Security-Policy"]
    assert "Traceback" not in answer.content.decode()
