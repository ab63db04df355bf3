"""``/health``: what it says, and that it says nothing else."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from refit.health import LATE_AFTER
from refit.notices.services import note_heartbeat
from refit.notices.tasks import sweep_outbox

pytestmark = pytest.mark.django_db


@pytest.fixture
def without_redis(settings: Any) -> None:
    settings.REDIS_URL = ""


@pytest.fixture
def with_redis(settings: Any) -> None:
    """As if worker and beat were processes of their own; the broker itself is not there."""
    settings.REDIS_URL = "redis://127.0.0.1:1/0"


@pytest.mark.usefixtures("without_redis")
def test_without_a_worker_it_says_so_with_503() -> None:
    answer = Client().get("/health")
    assert answer.status_code == 503
    assert answer.json() == {
        "status": "trouble",
        "database": "ok",
        "broker": "in this process",
        "schedule": "has not run",
        "worker": "does not run",
    }


def test_a_sweep_is_a_heartbeat_until_it_is_late() -> None:
    sweep_outbox()
    assert Client().get("/health").json()["schedule"] == "ok"
    note_heartbeat(name="schedule", now=timezone.now() - LATE_AFTER - timedelta(seconds=1))
    assert Client().get("/health").json()["schedule"] == "late"


@pytest.mark.usefixtures("with_redis")
def test_a_worker_elsewhere_is_known_by_its_heartbeat_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("refit.health._broker", lambda: "ok")
    note_heartbeat(name="schedule", now=timezone.now())
    answer = Client().get("/health")
    assert answer.status_code == 200
    assert answer.json() == {
        "status": "ok",
        "database": "ok",
        "broker": "ok",
        "schedule": "ok",
    }


def test_it_is_only_read_and_never_kept() -> None:
    assert Client().post("/health").status_code == 405
    assert Client().get("/health")["Cache-Control"] == "no-store"
