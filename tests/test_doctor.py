"""What the doctor says of an installation that is well, and of each thing that can be wrong."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from datetime import timedelta
from io import StringIO
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from celery import Celery
from django.core.management import call_command
from django.db import OperationalError
from django.utils import timezone
from PIL import features

from refit import doctor
from refit.doctor import Found, State
from refit.notices.models import Heartbeat, Letter, LetterState
from tests.builders import a_refit

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def sound(settings: Any, tmp_path: Path) -> None:
    """An installation as it should be, of which each test breaks one thing."""
    settings.DATA_DIR = tmp_path
    settings.MEDIA_ROOT = tmp_path / "uploads"
    settings.SITE_ADDRESS = "https://refit.example.org"
    settings.ALLOWED_HOSTS = ["refit.example.org"]
    settings.HTTPS = True
    settings.DEBUG = False
    settings.REDIS_URL = ""
    settings.EMAIL_HOST = "mail.example.org"
    settings.DEFAULT_FROM_EMAIL = "refit <refit@example.org>"
    Heartbeat.objects.create(name="schedule", at=timezone.now())


def found(check: Callable[..., Iterator[Found]]) -> Found:
    """The worst that a check says."""
    order = [State.WELL, State.NOTE, State.WRONG]
    return max(check(timezone.now()), key=lambda one: order.index(one.state))


def run(*options: str) -> tuple[str, int]:
    out = StringIO()
    try:
        call_command("doctor", *options, stdout=out)
    except SystemExit as end:
        return out.getvalue(), int(str(end.code))
    return out.getvalue(), 0


def test_a_sound_installation_is_well() -> None:
    said, code = run()
    assert code == 0
    assert "WRONG" not in said
    assert "note " not in said
    assert said.splitlines()[-1].startswith("Nothing is wrong; none to know;")
    assert len(run("--quiet")[0].splitlines()) == 1


def test_something_wrong_ends_with_one_and_says_what_to_do(settings: Any) -> None:
    settings.ALLOWED_HOSTS = ["localhost"]
    said, code = run("--quiet")
    assert code == 1
    assert "Mails lead to https://refit.example.org, but refit answers only to localhost." in said
    assert "Add refit.example.org to REFIT_HOSTS." in said
    assert "1 thing is wrong" in said


def test_a_note_alone_is_no_failure(settings: Any) -> None:
    settings.EMAIL_HOST = ""
    said, code = run("--quiet")
    assert code == 0
    assert "No mail server is set" in said


@pytest.mark.parametrize(
    ("address", "https", "state", "said"),
    [
        ("https://refit.example.org", True, State.WELL, "answers to that name"),
        ("https://refit.example.org", False, State.WRONG, "REFIT_HTTPS is no"),
        ("http://refit.example.org", True, State.WRONG, "REFIT_HTTPS is yes"),
        ("http://refit.example.org", False, State.NOTE, "not encrypted"),
        ("http://127.0.0.1:8000", False, State.NOTE, "on this machine only"),
        ("http://[::1]:8000", False, State.NOTE, "on this machine only"),
        ("refit.example.org", True, State.WRONG, "lead nowhere"),
        ("https://refit.example.org/boats", True, State.WRONG, "lead nowhere"),
    ],
)
def test_the_site_address(
    settings: Any, address: str, https: bool, state: State, said: str
) -> None:
    settings.SITE_ADDRESS, settings.HTTPS = address, https
    settings.ALLOWED_HOSTS = ["refit.example.org", "127.0.0.1", "[::1]"]
    one = found(doctor.site_address)
    assert one.state is state
    assert said in one.said


def test_a_data_folder_that_cannot_be_written(settings: Any, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    settings.MEDIA_ROOT = tmp_path / "file" / "uploads"
    one = found(doctor.data_folder)
    assert one.state is State.WRONG
    assert "uploads" in one.said


@pytest.mark.parametrize(
    ("free", "state"),
    [(50 * 1024**2, State.WRONG), (500 * 1024**2, State.NOTE), (50 * 1024**3, State.WELL)],
)
def test_disk_space(monkeypatch: pytest.MonkeyPatch, free: int, state: State) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda _path: SimpleNamespace(free=free))
    assert found(doctor.disk_space).state is state


def test_a_database_that_is_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doctor, "_pending", lambda: ["work.0009_later"])
    one = found(doctor.database)
    assert one.state is State.WRONG
    assert "work.0009_later" in one.said


def test_a_database_that_does_not_answer_is_said_once_and_the_rest_goes_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def away(*_args: object, **_named: object) -> Any:
        raise OperationalError("connection refused")

    monkeypatch.setattr(doctor, "_pending", away)
    monkeypatch.setattr(Heartbeat.objects, "filter", away)
    all_found = list(doctor.examine(timezone.now()))
    wrong = [one.said for one in all_found if one.state is State.WRONG]
    assert len(wrong) == 1
    assert "does not answer: connection refused" in wrong[0]
    assert any("schedule could not be looked at" in one.said for one in all_found)
    assert any("Photos in JPEG" in one.said for one in all_found)


@pytest.mark.parametrize("key", ["short", "a" * 80])
def test_a_weak_secret_key(settings: Any, key: str) -> None:
    settings.SECRET_KEY = key
    assert found(doctor.secret_key).state is State.WRONG


def test_a_secret_key_that_others_can_read(settings: Any, tmp_path: Path) -> None:
    kept = tmp_path / "secret-key"
    kept.write_text(settings.SECRET_KEY)
    kept.chmod(0o644)
    assert "chmod 600" in found(doctor.secret_key).do
    kept.chmod(0o600)
    assert found(doctor.secret_key).state is State.WELL


def test_a_mail_server_that_is_not_there(settings: Any) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 1
    one = found(doctor.mail)
    assert one.state is State.WRONG
    assert "127.0.0.1, port 1 cannot be reached" in one.said


@pytest.mark.parametrize("sender", ["refit <refit@localhost>", "refit"])
def test_a_sender_that_nobody_takes(settings: Any, sender: str) -> None:
    settings.DEFAULT_FROM_EMAIL = sender
    assert "REFIT_MAIL_FROM" in found(doctor.mail).do


def test_letters_that_are_stuck() -> None:
    now = timezone.now()
    assert found(doctor.letters).state is State.WELL
    letter = Letter.objects.create(
        refit=a_refit(), key="one", recipient="a@refit.example", side="vendor",
        due_at=now - timedelta(hours=2),
    )  # fmt: skip
    assert found(doctor.letters).state is State.WRONG
    Letter.objects.filter(pk=letter.pk).update(state=LetterState.PARKED)
    assert found(doctor.letters).state is State.NOTE


@pytest.mark.parametrize(
    ("minutes", "state", "said"),
    [
        (-1, State.WELL, "run"),
        (-10, State.WRONG, "last ran at"),
        (60, State.WRONG, "clock of this machine"),
    ],
)
def test_the_schedule(minutes: int, state: State, said: str) -> None:
    Heartbeat.objects.update(at=timezone.now() + timedelta(minutes=minutes))
    one = found(doctor.schedule)
    assert one.state is state
    assert said in one.said
    Heartbeat.objects.all().delete()
    assert found(doctor.schedule).state is State.NOTE


def test_a_redis_that_does_not_answer(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    assert "in the server process" in found(doctor.broker).said
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    nowhere = Celery(broker=settings.REDIS_URL)
    monkeypatch.setattr(doctor, "app", nowhere)
    one = found(doctor.broker)
    assert one.state is State.WRONG
    assert "Redis does not answer" in one.said


def test_time_zone_data_that_lacks_a_zone_of_ours(monkeypatch: pytest.MonkeyPatch) -> None:
    a_refit(time_zone="America/Halifax")
    assert found(doctor.time_zones).state is State.WELL
    monkeypatch.setattr(doctor, "available_timezones", lambda: {"UTC", "Europe/Lisbon"})
    one = found(doctor.time_zones)
    assert one.state is State.WRONG
    assert "America/Halifax" in one.said


def test_a_pillow_without_webp(monkeypatch: pytest.MonkeyPatch) -> None:
    real = features.check
    monkeypatch.setattr(features, "check", lambda name: name != "webp" and real(name))
    one = found(doctor.pictures)
    assert one.state is State.WRONG
    assert "WEBP" in one.said


def test_a_check_that_breaks_down_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken_check(_now: object) -> Iterator[Found]:
        raise RuntimeError("out of paper")
        yield

    monkeypatch.setattr(doctor, "CHECKS", (broken_check,))
    (one,) = doctor.examine(timezone.now())
    assert "“broken check” broke down: out of paper" in one.said
