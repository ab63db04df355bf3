"""Fifty processes that change the same row at the same time: no error, and no change is lost."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.services.scratch import scratch_database

ROOT = Path(__file__).resolve().parents[2]
SERVER = os.environ.get("REFIT_TEST_POSTGRESQL", "")
PROCESSES, WRITES = 50, 20

pytestmark = [
    pytest.mark.skipif(not hasattr(os, "fork"), reason="no processes by fork here"),
    pytest.mark.skipif(
        bool(os.environ.get("REFIT_DATABASE_URL")), reason="the same whatever these tests run on"
    ),
]


def together(folder: Path, database: str = "") -> dict[str, Any]:
    environment = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("REFIT_", "DJANGO_"))
    } | {"REFIT_DATA": str(folder)}
    if database:
        environment["REFIT_DATABASE_URL"] = database
    answer = subprocess.run(
        [sys.executable, "-m", "tests.faults.writers", str(PROCESSES), str(WRITES)],
        cwd=ROOT, env=environment, capture_output=True, text=True, timeout=240,
    )  # fmt: skip
    assert answer.returncode == 0, answer.stderr
    told: dict[str, Any] = json.loads(answer.stdout.splitlines()[-1])
    print(f"\n{PROCESSES} processes, {WRITES} writes each: {told}")
    assert told.pop("seconds") > 0
    return told


def test_on_sqlite(tmp_path: Path) -> None:
    assert together(tmp_path) == {
        "engine": "sqlite",
        "failed": 0,
        "parts": PROCESSES * WRITES,
        "entries": PROCESSES * WRITES,
        "version": 1 + PROCESSES * WRITES,
    }


@pytest.mark.postgresql
@pytest.mark.skipif(not SERVER, reason="PostgreSQL is not running here; set REFIT_TEST_POSTGRESQL")
def test_on_postgresql(tmp_path: Path) -> None:
    with scratch_database(SERVER) as database:
        told = together(tmp_path, database)
    assert told == {
        "engine": "postgresql",
        "failed": 0,
        "parts": PROCESSES * WRITES,
        "entries": PROCESSES * WRITES,
        "version": 1 + PROCESSES * WRITES,
    }
