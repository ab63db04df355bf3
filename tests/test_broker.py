"""Worker and beat as processes of their own, with Redis between them."""

import os
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
REDIS = os.environ.get("REFIT_TEST_REDIS", "")
pytestmark = [
    pytest.mark.redis,
    pytest.mark.skipif(not REDIS, reason="needs Redis: set REFIT_TEST_REDIS"),
]


class Installation:
    """A data folder, and the processes started on it."""

    def __init__(self, data: Path) -> None:
        self.data = data
        self.environment = {
            name: value
            for name, value in os.environ.items()
            if not name.startswith(("REFIT_", "DJANGO_"))
        } | {
            "REFIT_DATA": str(data),
            # A database of Redis that nobody else in these tests uses.
            "REFIT_REDIS_URL": REDIS.rpartition("/")[0] + "/9",
        }
        self.running: list[subprocess.Popen[bytes]] = []

    def run(self, *words: str) -> None:
        subprocess.run(
            [sys.executable, "manage.py", *words], cwd=ROOT, env=self.environment, check=True
        )

    def start(self, *words: str) -> subprocess.Popen[bytes]:
        process = subprocess.Popen(
            [sys.executable, "-m", "celery", "-A", "refit", *words],
            cwd=ROOT,
            env=self.environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        self.running.append(process)
        return process

    def heartbeat(self) -> str:
        with sqlite3.connect(self.data / "refit.sqlite3", timeout=20) as database:
            row = database.execute("SELECT at FROM notices_heartbeat").fetchone()
        return row[0] if row else ""

    def wait_for_heartbeat_after(self, last: str) -> str:
        until = time.monotonic() + 90
        while (now := self.heartbeat()) <= last:
            assert time.monotonic() < until, "beat did not reach the worker"
            time.sleep(0.5)
        return now


@pytest.fixture
def installation(tmp_path: Path) -> Iterator[Installation]:
    made = Installation(tmp_path)
    yield made
    for process in made.running:
        process.kill()
        process.wait()


def test_beat_reaches_the_worker_and_reaches_the_next_one_after_a_kill(
    installation: Installation,
) -> None:
    installation.run("migrate", "--verbosity", "0")
    installation.start("beat")
    worker = installation.start("worker", "--pool", "solo")
    first = installation.wait_for_heartbeat_after("")
    worker.kill()
    worker.wait()
    installation.start("worker", "--pool", "solo")
    assert installation.wait_for_heartbeat_after(first) > first
