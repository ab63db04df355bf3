"""A broker that is down costs time, never what was written."""

from __future__ import annotations

import logging
import time
from typing import Any

import pytest
from django.db import transaction

from refit import nudges
from refit.nudges import nudge
from refit.work.models import Refit
from tests.builders import a_refit


class _NoBroker:
    def delay(self, *args: Any, **kwargs: Any) -> Any:
        raise ConnectionError("the broker does not answer")


class _Noting:
    def __init__(self) -> None:
        self.asked: list[tuple[Any, ...]] = []

    def delay(self, *args: Any, **kwargs: Any) -> Any:
        self.asked.append(args)


@pytest.mark.django_db(transaction=True)
def test_a_broker_that_is_down_is_logged_and_the_change_stays(
    caplog: pytest.LogCaptureFixture,
) -> None:
    with caplog.at_level(logging.ERROR), transaction.atomic():
        refit = a_refit()
        nudge(_NoBroker(), refit.pk)

    assert Refit.objects.filter(pk=refit.pk).exists()
    assert "the broker does not answer" in caplog.text


@pytest.mark.django_db(transaction=True)
def test_the_worker_is_woken_after_the_commit_and_not_before() -> None:
    task = _Noting()
    with transaction.atomic():
        nudge(task, 7)
        assert task.asked == []
    assert task.asked == [(7,)]


@pytest.mark.django_db(transaction=True)
def test_a_broker_that_does_not_even_refuse_is_asked_once_and_then_left_alone(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    class Silent(_Noting):
        def delay(self, *args: Any, **kwargs: Any) -> Any:
            super().delay(*args)
            time.sleep(0.02)
            raise TimeoutError

    monkeypatch.setattr(nudges, "SLOW_SECONDS", 0.01)
    monkeypatch.setattr(nudges, "LEFT_ALONE_SECONDS", 0.2)
    monkeypatch.setattr(nudges, "_away_until", 0.0)
    task = Silent()
    for number in range(5):
        nudge(task, number)
    assert task.asked == [(0,)]
    time.sleep(0.25)
    nudge(task, 5)
    assert task.asked == [(0,), (5,)]
