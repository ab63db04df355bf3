"""What stands in the log: ids and who, never a token; plain or one JSON object a line."""

from __future__ import annotations

import json
import logging
import os
import subprocess
import sys
from collections.abc import Iterator
from io import StringIO
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from refit.accounts.models import LinkKind, Role
from refit.logs import JsonLines, PlainLines
from tests.builders import a_link, a_member, a_refit, a_vendor

pytestmark = pytest.mark.django_db
ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture
def lines() -> Iterator[StringIO]:
    """What the whole program logs meanwhile, as JSON lines."""
    written = StringIO()
    handler = logging.StreamHandler(written)
    handler.setFormatter(JsonLines())
    root, django = logging.getLogger(), logging.getLogger("django")
    root.addHandler(handler)
    passed, django.propagate = django.propagate, True
    yield written
    root.removeHandler(handler)
    django.propagate = passed


def told(lines: StringIO) -> list[dict[str, str]]:
    return [json.loads(line) for line in lines.getvalue().splitlines()]


def test_a_refusal_is_logged_with_its_id_and_who_was_refused(lines: StringIO) -> None:
    refit = a_refit()
    reader = a_member(refit, Role.READER)
    client = Client()
    client.force_login(reader)
    answer = client.post(reverse("desk:sent-again", args=[refit.slug, 1]))
    assert answer.status_code == 403
    (line,) = told(lines)
    assert line["who"] == f"user {reader.pk}"
    assert line["request"] == answer.headers["X-Request-ID"]
    assert (line["level"], line["status"], line["method"]) == ("warning", "403", "POST")
    assert reader.email not in lines.getvalue()


def test_a_stranger_is_logged_as_one_and_a_link_by_its_public_id(lines: StringIO) -> None:
    refit = a_refit()
    vendor = a_vendor(refit)
    link, token = a_link(refit, LinkKind.VENDOR, vendor)
    Client().get(reverse("portal:page", args=[link.public_id]))
    holder = Client()
    holder.get(reverse("portal:enter", args=[token]))
    holder.get(reverse("desk:today", args=["no-such-refit"]), follow=True)
    holder.post(reverse("portal:ready", args=[link.public_id, 4711]))
    lines_told = told(lines)
    assert lines_told[0]["who"] == "nobody known"
    assert lines_told[-1]["who"] == f"link {link.public_id}"
    assert token not in lines.getvalue()


@pytest.mark.parametrize("name", ["portal:enter", "notices:stop", "notices:open"])
def test_no_token_is_written_down(lines: StringIO, name: str) -> None:
    Client().get(reverse(name, args=["ThisIsAToken-that-nobody-gave"]))
    assert told(lines)
    assert "ThisIsAToken" not in lines.getvalue()


def test_an_error_is_one_line_with_its_trace_and_no_token() -> None:
    try:
        raise ValueError("at /p/in/ThisIsAToken")
    except ValueError:
        record = logging.LogRecord(
            "refit", logging.ERROR, __file__, 1, "It fell\nover", None, sys.exc_info()
        )
    line = JsonLines().format(record)
    assert "\n" not in line
    assert "ValueError" in json.loads(line)["trace"]
    assert "ThisIsAToken" not in line + PlainLines().format(record)


def test_the_id_is_ours_and_new_each_time() -> None:
    first, second = (
        Client().get("/health", headers={"x-request-id": "forged"}).headers["X-Request-ID"]
        for _ in range(2)
    )
    assert len({first, second, "forged"}) == 3


@pytest.mark.parametrize(
    ("chosen", "fine"), [("json", True), ("plain", True), ("", True), ("xml", False)]
)
def test_the_form_is_chosen_by_a_variable(tmp_path: Path, chosen: str, fine: bool) -> None:
    answer = subprocess.run(
        [
            sys.executable, "-c",
            "import django; django.setup(); import logging; logging.warning('hello')",
        ],
        cwd=ROOT, capture_output=True, text=True, timeout=60,
        env=os.environ | {
            "DJANGO_SETTINGS_MODULE": "refit.settings", "REFIT_DATA": str(tmp_path),
            "REFIT_LOG": chosen,
        },
    )  # fmt: skip
    assert (answer.returncode == 0) is fine
    if chosen == "json":
        assert json.loads(answer.stderr)["said"] == "hello"
    if not fine:
        assert "REFIT_LOG must be plain or json" in answer.stderr
