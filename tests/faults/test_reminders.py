"""A thousand reminders while worker, Redis and PostgreSQL are struck down under them.

Real processes of refit (two workers, beat), a real Redis, a real PostgreSQL, a real mail server
that refuses every tenth mail. What must hold is in ``reliability``'s words: nothing is lost, and a
mail is doubled only where the mail server had taken it and its sender died before writing that
down, so at most once a kill.
"""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest

from .fill import REMINDERS
from .postbox import Postbox, Server
from .servers import PostgreSQL, Redis, free_port, what_is_missing

ROOT = Path(__file__).resolve().parents[2]
KILLS, REDIS_RESTARTS, DATABASE_RESTARTS = 10, 2, 1
REFUSED = 0.10
WORKERS = 2
AT_MOST_SECONDS = int(os.environ.get("REFIT_FAULT_SECONDS") or 240)
"""A machine that does nothing else takes about 75; one that does may need the variable."""
QUIET_AFTER_SECONDS = 6
"""How long the run goes on watching when all has arrived: three sweeps."""

pytestmark = [
    pytest.mark.faults,
    pytest.mark.skipif(
        not os.environ.get("REFIT_TEST_FAULTS"),
        reason="the fault run takes minutes: set REFIT_TEST_FAULTS=yes",
    ),
    pytest.mark.skipif(
        bool(what_is_missing()), reason=f"the fault run needs {what_is_missing()} here"
    ),
]


class Yard:
    """The processes of one installation."""

    def __init__(self, folder: Path, environment: dict[str, str]) -> None:
        self.folder, self.environment = folder, environment
        self.workers: list[subprocess.Popen[bytes]] = []
        self.beat: subprocess.Popen[bytes] | None = None
        self.fallen = 0
        """Processes that ended without being killed."""

    def run(self, *words: str) -> None:
        subprocess.run([sys.executable, *words], cwd=ROOT, env=self.environment, check=True)

    def start(self, *words: str) -> subprocess.Popen[bytes]:
        with (self.folder / f"{words[0]}.log").open("ab") as log:
            return subprocess.Popen(
                [sys.executable, "-m", "celery", "-A", "refit", *words],
                cwd=ROOT, env=self.environment, stdout=log, stderr=subprocess.STDOUT,
                start_new_session=True,
            )  # fmt: skip

    def start_worker(self) -> subprocess.Popen[bytes]:
        return self.start("worker", "--concurrency=1", "--loglevel=warning")

    def start_beat(self) -> subprocess.Popen[bytes]:
        return self.start("beat", f"--schedule={self.folder / 'beat-schedule'}")

    def start_all(self) -> None:
        self.beat = self.start_beat()
        self.workers = [self.start_worker() for _ in range(WORKERS)]

    def kill_a_worker(self, chance: random.Random) -> None:
        """SIGKILL to the worker and its children at once; another one takes its place."""
        which = chance.randrange(len(self.workers))
        kill(self.workers[which])
        self.workers[which] = self.start_worker()

    def raise_the_fallen(self) -> None:
        """As a supervisor would; it is counted, because nothing here should need one."""
        for which, worker in enumerate(self.workers):
            if worker.poll() is not None:
                self.fallen += 1
                self.workers[which] = self.start_worker()
        if self.beat is not None and self.beat.poll() is not None:
            self.fallen += 1
            self.beat = self.start_beat()

    def end(self) -> None:
        for process in [*self.workers, self.beat]:
            if process is not None:
                kill(process)

    def logs(self) -> str:
        return "\n".join(
            f"--- {log.name}\n{log.read_text(errors='replace')[-6000:]}"
            for log in sorted(self.folder.glob("*.log"))
        )


def kill(process: subprocess.Popen[bytes]) -> None:
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGKILL)
    process.wait()


@contextmanager
def a_folder() -> Iterator[Path]:
    """One that the user of PostgreSQL may walk through, unlike those that pytest makes."""
    with tempfile.TemporaryDirectory(prefix="refit-faults-") as name:
        folder = Path(name)
        folder.chmod(0o755)
        yield folder


def letters_by_state(database: str) -> dict[str, int]:
    with psycopg.connect(database) as connection:
        rows = connection.execute("SELECT state, count(*) FROM notices_letter GROUP BY state")
        return dict(rows.fetchall())


def names_sent(database: str) -> set[str]:
    """Message-IDs of the letters that refit believes to have sent."""
    with psycopg.connect(database) as connection:
        rows = connection.execute("SELECT message_id FROM notices_letter WHERE state = 'sent'")
        return {row[0] for row in rows}


def test_a_thousand_reminders_arrive_whatever_is_struck_down() -> None:
    seed = int(os.environ.get("REFIT_FAULT_SEED") or random.SystemRandom().randrange(10**6))
    chance = random.Random(seed)
    faults = ["kill"] * KILLS + ["redis"] * REDIS_RESTARTS + ["postgresql"] * DATABASE_RESTARTS
    chance.shuffle(faults)
    # Spread over the run by how much has arrived: the last one while something is left to send.
    moments = sorted(chance.sample(range(10, int(REMINDERS * 0.95)), len(faults)))
    postbox = Postbox(refuse=REFUSED, seed=seed)
    server = Server(postbox, free_port())
    with a_folder() as folder:
        redis, database = Redis(folder / "redis"), PostgreSQL(folder / "postgresql")
        yard = Yard(
            folder,
            {name: value for name, value in os.environ.items() if not name.startswith("REFIT_")}
            | {
                "DJANGO_SETTINGS_MODULE": "tests.faults.worker_settings",
                "REFIT_DATA": str(folder / "data"),
                "REFIT_SECRET_KEY": "only-for-the-fault-run-" + "x" * 40,
                "REFIT_DATABASE_URL": database.address,
                "REFIT_REDIS_URL": redis.address,
                "REFIT_SMTP_HOST": "127.0.0.1",
                "REFIT_SMTP_PORT": str(server.port),
                "REFIT_SMTP_STARTTLS": "no",
            },
        )
        try:
            server.start()
            redis.start()
            database.start()
            yard.run("-m", "tests.faults.fill")
            began = time.monotonic()
            yard.start_all()
            struck: list[str] = []
            all_sent_at = 0.0
            while time.monotonic() < began + AT_MOST_SECONDS:
                yard.raise_the_fallen()
                if moments and postbox.arrived >= moments[0]:
                    moments.pop(0)
                    time.sleep(chance.random() * 0.05)
                    fault = faults[len(struck)]
                    struck.append(fault)
                    if fault == "kill":
                        yard.kill_a_worker(chance)
                    else:
                        fallible = redis if fault == "redis" else database
                        fallible.kill()
                        time.sleep(chance.random() * 2)
                        fallible.start()
                elif not moments and letters_by_state(database.address) == {"sent": REMINDERS}:
                    all_sent_at = all_sent_at or time.monotonic()
                    if time.monotonic() > all_sent_at + QUIET_AFTER_SECONDS:
                        break
                time.sleep(0.02)
            states, sent = letters_by_state(database.address), names_sent(database.address)
        finally:
            yard.end()
            said = yard.logs()
            database.stop()
            redis.kill()
            server.stop()
    kills = struck.count("kill")
    waiting = states.get("waiting", 0) + states.get("claimed", 0)
    figures = {
        "seed": seed,
        "arrived": postbox.arrived,
        "still waiting": waiting,
        "lost": REMINDERS - waiting - len(sent & set(postbox.took)),
        "doubled": sum(postbox.took.values()) - postbox.arrived,
        "most often one mail": max(postbox.took.values(), default=0),
        "refused for the moment": postbox.refused,
        "kills": kills,
        "restarts of Redis": struck.count("redis"),
        "restarts of PostgreSQL": struck.count("postgresql"),
        "seconds": round((all_sent_at or time.monotonic()) - began, 1),
    }
    print(f"\nfault run: {json.dumps(figures)}")
    assert (kills, struck.count("redis"), struck.count("postgresql")) == (
        KILLS, REDIS_RESTARTS, DATABASE_RESTARTS,
    ), (figures, said)  # fmt: skip
    assert all_sent_at, ("the time was up before everything was sent", figures, said)
    assert states == {"sent": REMINDERS}, (figures, said)
    assert set(postbox.took) == sent, (figures, said)
    assert figures["lost"] == 0, (figures, said)
    assert figures["doubled"] <= kills, (figures, said)
    assert postbox.refused >= REMINDERS * REFUSED / 2, "the mail server hardly refused anything"
    assert yard.fallen == 0, (figures, said)
