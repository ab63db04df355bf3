"""The demo on a real PostgreSQL: the same document and the same plan as on SQLite."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from .scratch import scratch_database

SERVER = os.environ.get("REFIT_TEST_POSTGRESQL", "")
ROOT = Path(__file__).resolve().parents[2]
NOW = "2026-11-25T13:00:00+00:00"
"""A Wednesday morning where the demo's boat is."""

pytestmark = [
    pytest.mark.postgresql,
    pytest.mark.skipif(
        not SERVER, reason="PostgreSQL is not running here; set REFIT_TEST_POSTGRESQL"
    ),
]


def _told(folder: Path, database: str = "") -> dict[str, Any]:
    environment = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("REFIT_", "DJANGO_"))
    }
    environment["REFIT_DATA"] = str(folder)
    if database:
        environment["REFIT_DATABASE_URL"] = database
    answer = subprocess.run(
        [sys.executable, "-m", "tests.services.told", NOW],
        cwd=ROOT, env=environment, capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert answer.returncode == 0, answer.stderr
    told: dict[str, Any] = json.loads(answer.stdout)
    return told


def test_the_demo_has_the_same_document_and_plan_on_both_databases(tmp_path: Path) -> None:
    with scratch_database(SERVER) as database:
        there = _told(tmp_path / "there", database)
    here = _told(tmp_path / "here")
    assert (there.pop("engine"), here.pop("engine")) == ("postgresql", "sqlite")
    agreed = [package for package in here["document"]["packages"] if package["is_agreed"]]
    assert len(here["packages"]) == len(agreed) >= 50
    assert len(here["moves"]) > 5
    for part, told in here.items():
        assert there[part] == told, part
