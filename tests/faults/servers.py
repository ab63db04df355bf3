"""A Redis and a PostgreSQL of our own, in a folder of our own, to be struck down and started again.

Root may not run PostgreSQL: then its files and processes belong to the user ``postgres``.
"""

from __future__ import annotations

import contextlib
import os
import pwd
import shutil
import signal
import socket
import subprocess
import time
from pathlib import Path

import psycopg
import redis

PATIENCE_SECONDS = 30


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def postgresql_binaries() -> Path | None:
    """The folder with ``initdb`` and ``postgres``; the newest where there are several."""
    on_path = shutil.which("initdb")
    found = [Path(on_path).resolve().parent] if on_path else []
    # Where Debian puts them, outside the path.
    found += Path("/usr/lib/postgresql").glob("*/bin")
    whole = [folder for folder in found if (folder / "postgres").exists()]
    return max(whole, key=lambda folder: (len(str(folder)), str(folder)), default=None)


def what_is_missing() -> str:
    """What the fault run needs and does not find here; empty if all is here."""
    missing = [] if shutil.which("redis-server") else ["Redis (redis-server)"]
    if postgresql_binaries() is None:
        missing.append("PostgreSQL (initdb, postgres)")
    elif os.geteuid() == 0:
        try:
            pwd.getpwnam("postgres")
        except KeyError:
            missing.append("a user “postgres” for PostgreSQL, which root may not run")
    return ", ".join(missing)


class Redis:
    """With the append-only file and without eviction, as in ``docker/compose.yaml``."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir()
        self.folder, self.port = folder, free_port()
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                [
                    "redis-server", "--bind", "127.0.0.1", "--port", str(self.port),
                    "--dir", str(self.folder), "--appendonly", "yes", "--save", "",
                    "--maxmemory-policy", "noeviction",
                ],
                stdout=log, stderr=subprocess.STDOUT,
            )  # fmt: skip
        until = time.monotonic() + PATIENCE_SECONDS
        with redis.Redis(port=self.port) as line:
            while True:
                with contextlib.suppress(redis.RedisError):
                    if line.ping():
                        return
                assert time.monotonic() < until, (self.folder / "log").read_text()
                time.sleep(0.05)

    def kill(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            self.process = None


class PostgreSQL:
    """A cluster with one database. ``kill`` is a crash: no checkpoint, no farewell."""

    def __init__(self, folder: Path) -> None:
        binaries = postgresql_binaries()
        assert binaries is not None
        folder.mkdir()
        self.binaries, self.folder, self.port = binaries, folder, free_port()
        self.data = folder / "cluster"
        self.process: subprocess.Popen[bytes] | None = None
        self.user = "postgres" if os.geteuid() == 0 else None
        if self.user:
            shutil.chown(folder, self.user)
        subprocess.run(
            [
                str(binaries / "initdb"), "-D", str(self.data), "-U", "refit", "-A", "trust",
                "-E", "UTF8", "--locale=C",
            ],
            user=self.user, check=True, capture_output=True, cwd=folder,
        )  # fmt: skip

    @property
    def address(self) -> str:
        return f"postgresql://refit@127.0.0.1:{self.port}/postgres"

    def start(self) -> None:
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                [
                    str(self.binaries / "postgres"), "-D", str(self.data), "-p", str(self.port),
                    "-h", "127.0.0.1", "-k", str(self.folder),
                ],
                user=self.user, stdout=log, stderr=subprocess.STDOUT, cwd=self.folder,
                start_new_session=True,
            )  # fmt: skip
        until = time.monotonic() + PATIENCE_SECONDS
        while True:
            with contextlib.suppress(psycopg.OperationalError):
                psycopg.connect(self.address, connect_timeout=2).close()
                return
            assert time.monotonic() < until, (self.folder / "log").read_text()
            time.sleep(0.1)

    def kill(self) -> None:
        """Immediate shutdown: nothing is written any more, the next start recovers from the log."""
        self._end(signal.SIGQUIT)

    def stop(self) -> None:
        self._end(signal.SIGINT)

    def _end(self, by: signal.Signals) -> None:
        if self.process is not None:
            self.process.send_signal(by)
            self.process.wait(PATIENCE_SECONDS)
            self.process = None
