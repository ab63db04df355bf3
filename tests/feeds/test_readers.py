"""Programs of others read our feeds without complaint and find the same days and instants, on both
sides of a clock change. vobject and our own lint are in ``test_feeds.py``."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import icalendar
import pytest

from refit.accounts.models import LinkKind
from refit.feeds.models import FeedEvent
from refit.work.models import Booking, Refit

from .test_feeds import Scene, fetch

pytestmark = pytest.mark.django_db
HERE = Path(__file__).parent
KHAL = Path(sys.executable).with_name("khal")
CHANGES = [
    ("America/Halifax", datetime(2027, 3, 14, 3, 30, tzinfo=UTC)),
    ("America/Halifax", datetime(2027, 11, 7, 5, 30, tzinfo=UTC)),
    ("Europe/Lisbon", datetime(2027, 3, 28, 0, 30, tzinfo=UTC)),
    ("Europe/Lisbon", datetime(2027, 10, 31, 1, 30, tzinfo=UTC)),
]
"""Within two hours of the change, a booking at that moment and work from then on."""


def a_feed(zone: str, start: datetime) -> tuple[str, dict[str, tuple[str, str]]]:
    """The manager's calendar, and what stands in it by title: days, or instants in UTC."""
    scene = Scene()
    Refit.objects.update(time_zone=zone)
    scene.refit.refresh_from_db()
    scene.replan(start + timedelta(days=30), weld_start=start)
    Booking.objects.update(at=start)
    _, token = scene.link(LinkKind.MANAGER_FEED)
    body = fetch(token).content.decode()
    expected: dict[str, tuple[str, str]] = {}
    for event in FeedEvent.objects.all():
        if event.first_day and event.last_day:
            after = event.last_day + timedelta(days=1)
            expected[event.summary] = (event.first_day.isoformat(), after.isoformat())
        elif event.starts_at and event.ends_at:
            expected[event.summary] = (instant(event.starts_at), instant(event.ends_at))
    assert len(expected) == 6
    return body, expected


def instant(moment: date | datetime) -> str:
    if isinstance(moment, datetime):
        return f"{moment.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"
    return moment.isoformat()


@pytest.mark.parametrize(("zone", "start"), CHANGES)
def test_icalendar_reads_it_and_writes_it_back_equal(zone: str, start: datetime) -> None:
    body, expected = a_feed(zone, start)
    for _ in range(2):
        calendar: Any = icalendar.Calendar.from_ical(body)
        assert calendar.errors == []
        events = calendar.events
        assert all(event.errors == [] for event in events)
        found = {
            str(event["SUMMARY"]): (instant(event.start), instant(event.end)) for event in events
        }
        assert found == expected
        body = calendar.to_ical().decode()


@pytest.mark.skipif(
    not shutil.which("node") or not (HERE / "node_modules" / "ical.js").is_dir(),
    reason="ical.js is not here; npm install --prefix tests/feeds",
)
@pytest.mark.parametrize(("zone", "start"), CHANGES)
def test_ical_js_reads_it(zone: str, start: datetime) -> None:
    body, expected = a_feed(zone, start)
    answer = subprocess.run(
        ["node", str(HERE / "read.mjs")], input=body, capture_output=True, text=True, timeout=60
    )
    assert (answer.returncode, answer.stderr) == (0, "")
    found = {
        event["title"]: tuple(event[end].replace(".000Z", "Z") for end in ("start", "end"))
        for event in json.loads(answer.stdout)
    }
    assert found == expected


@pytest.mark.skipif(not KHAL.exists(), reason="khal is not here; uv sync installs it")
@pytest.mark.parametrize(("zone", "start"), CHANGES)
def test_khal_takes_it_in_and_lists_it(zone: str, start: datetime, tmp_path: Path) -> None:
    body, expected = a_feed(zone, start)
    (tmp_path / "feed.ics").write_bytes(body.encode())
    (tmp_path / "calendar").mkdir()
    config = tmp_path / "config"
    config.write_text(
        f"[calendars]\n[[refit]]\npath = {tmp_path / 'calendar'}\n"
        f"[sqlite]\npath = {tmp_path / 'khal.db'}\n"
        "[locale]\nlocal_timezone = UTC\ndefault_timezone = UTC\n"
        "timeformat = %H:%M\ndateformat = %Y-%m-%d\nlongdateformat = %Y-%m-%d\n"
        "datetimeformat = %Y-%m-%d %H:%M\nlongdatetimeformat = %Y-%m-%d %H:%M\n"
    )

    def khal(*words: str) -> str:
        answer = subprocess.run(
            [str(KHAL), "-c", str(config), *words], capture_output=True, text=True, timeout=60,
            env=os.environ | {"HOME": str(tmp_path), "XDG_CACHE_HOME": str(tmp_path)},
        )  # fmt: skip
        assert (answer.returncode, answer.stderr) == (0, ""), answer.stderr
        return answer.stdout

    khal("import", "--batch", "-a", "refit", str(tmp_path / "feed.ics"))
    listed = khal(
        "list", "--day-format", "", "--once", "--format", "{title}|{start}", "2026-11-01", "500d"
    )
    found = dict(line.split("|") for line in listed.splitlines() if "|" in line)
    said = {
        title: begins if len(begins) == 10 else f"{begins[:10]} {begins[11:16]}"
        for title, (begins, _ends) in expected.items()
    }
    assert found == said
