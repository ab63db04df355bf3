"""A real Celery worker on a real Redis: it does what is queued, and its death loses nothing."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
import uuid
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import redis
from celery import Task
from django.db import connection
from kombu import Connection

from refit.celery import app
from refit.notices.models import Letter, LetterState
from refit.notices.services import write_notices
from refit.notices.tasks import sweep_outbox
from refit.planning.models import Plan
from refit.planning.services import replan
from refit.planning.tasks import replan_refit, replan_stale
from refit.quality.models import Finding
from refit.work.models import Refit, record
from tests.builders import A_MANAGER, a_member, a_package, a_place, a_refit

from .mailbox import Mailbox, a_mailbox

BROKER = os.environ.get("REFIT_TEST_REDIS", "")
ROOT = Path(__file__).resolve().parents[2]
LETTERS = 8

pytestmark = [
    pytest.mark.redis,
    pytest.mark.skipif(not BROKER, reason="Redis is not running here; set REFIT_TEST_REDIS"),
    pytest.mark.django_db(transaction=True),
]


@dataclass
class Yard:
    """A broker of our own (by a prefix of its keys), a mail server, and a worker between them."""

    prefix: str
    mailbox: Mailbox
    log: Path
    worker: subprocess.Popen[bytes] | None = None

    def queue(self, task: Task[..., Any], *arguments: int) -> None:
        with Connection(BROKER, transport_options={"global_keyprefix": self.prefix}) as broker:
            task.apply_async(arguments, producer=app.amqp.Producer(broker))

    def start(self) -> None:
        environment = os.environ | {
            "DJANGO_SETTINGS_MODULE": "tests.services.worker_settings",
            "REFIT_REDIS_URL": BROKER,
            "REFIT_TEST_DATABASE": str(connection.settings_dict["NAME"]),
            "REFIT_TEST_PREFIX": self.prefix,
            "REFIT_SMTP_HOST": "127.0.0.1",
            "REFIT_SMTP_PORT": str(self.mailbox.port),
            "REFIT_SMTP_STARTTLS": "no",
        }
        with self.log.open("ab") as log:
            self.worker = subprocess.Popen(
                [sys.executable, "-m", "celery", "-A", "refit", "worker", "--concurrency=1"],
                cwd=ROOT, env=environment, stdout=log, stderr=subprocess.STDOUT,
                start_new_session=True,
            )  # fmt: skip

    def kill(self) -> None:
        """The worker and its children, without a word."""
        if self.worker is not None and self.worker.poll() is None:
            os.killpg(self.worker.pid, signal.SIGKILL)
            self.worker.wait()

    def wait_until(self, holds: Callable[[], bool]) -> None:
        until = time.monotonic() + 60
        while not holds():
            assert self.worker is not None
            assert self.worker.poll() is None, self.log.read_text()
            assert time.monotonic() < until, self.log.read_text()
            time.sleep(0.05)


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    prefix = f"refit-test-{uuid.uuid4().hex[:8]}:"
    with a_mailbox(seconds_each=0.25) as mailbox:
        yard = Yard(prefix, mailbox, tmp_path / "worker.log")
        yield yard
        yard.kill()
    store = redis.Redis.from_url(BROKER)
    for key in store.scan_iter(f"{prefix}*"):
        store.delete(key)


def _a_zone_where_it_is_noon() -> str:
    """Mail waits at night; here it never is. (The sign of these names is turned round: POSIX.)"""
    return f"Etc/GMT{datetime.now(UTC).hour - 12:+d}"


def _a_refit_with_news(people: int) -> Refit:
    """Its plan is behind, and everybody is owed one urgent letter."""
    now = datetime.now(UTC)
    refit = a_refit(time_zone=_a_zone_where_it_is_noon(), start=now.date())
    a_package(refit, place=a_place(refit), is_launch=True)
    assert replan(refit=refit, now=now) is not None
    record(refit=refit, actor=A_MANAGER, now=now, verb="changed", subject=refit)
    for _ in range(people):
        a_member(refit)
    Finding.objects.create(
        refit=refit, code="N1", title="Soft core", found_at=now,
        decide_by=now + timedelta(hours=3),
    )  # fmt: skip
    write_notices(refit=refit, now=now)
    assert Letter.objects.due(datetime.now(UTC)).count() == people
    assert not _is_planned(refit)
    return refit


def _is_planned(refit: Refit) -> bool:
    plan = Plan.objects.current(refit)
    refit.refresh_from_db()
    return plan is not None and plan.refit_version == refit.version


def _all_sent() -> bool:
    return not Letter.objects.exclude(state=LetterState.SENT).exists()


def test_a_worker_plans_and_sends_what_is_queued(yard: Yard) -> None:
    refit = _a_refit_with_news(people=2)
    yard.queue(replan_refit, refit.pk)
    yard.queue(sweep_outbox)
    yard.start()
    yard.wait_until(lambda: _is_planned(refit) and _all_sent())
    sent = Letter.objects.values_list("message_id", flat=True)
    assert sorted(yard.mailbox.took) == sorted(sent)
    assert len(sent) == 2


def test_a_worker_killed_while_it_sends_loses_nothing_and_repeats_at_most_one_mail(
    yard: Yard,
) -> None:
    refit = _a_refit_with_news(people=LETTERS)
    yard.queue(sweep_outbox)
    yard.queue(replan_refit, refit.pk)
    yard.start()
    yard.wait_until(lambda: len(yard.mailbox.took) >= 3)
    yard.kill()
    assert not _all_sent()
    assert not _is_planned(refit), "it waited behind the mails"

    # What the schedule does every minute; the lease of the mail in flight has run out by then.
    Letter.objects.filter(state=LetterState.CLAIMED).update(claimed_until=datetime.now(UTC))
    yard.start()
    yard.queue(sweep_outbox)
    yard.queue(replan_stale)
    yard.wait_until(lambda: _is_planned(refit) and _all_sent())
    took = Counter(yard.mailbox.took)
    assert set(took) == set(Letter.objects.values_list("message_id", flat=True))
    assert len(took) == LETTERS
    assert sum(took.values()) <= LETTERS + 1, took
