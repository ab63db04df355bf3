"""``manage.py serve`` in a process of its own, for browsers: started, read, ended by Ctrl-C.

On SQLite in a folder of its own; when the tests run on PostgreSQL, on a scratch database there.
The worker and its schedule run inside the server, as on a laptop.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.services.scratch import scratch_database

ROOT = Path(__file__).resolve().parents[2]
POSTGRESQL = os.environ.get("REFIT_DATABASE_URL", "")
START_SECONDS = 90
END_SECONDS = 20


@dataclass(frozen=True)
class Store:
    """Where a server keeps things: a folder, and a database if it is not in the folder."""

    folder: Path
    database: str = ""

    @property
    def environment(self) -> dict[str, str]:
        """The environment of the tests without what configures refit there."""
        kept = {
            name: value
            for name, value in os.environ.items()
            if not name.startswith(("REFIT_", "DJANGO_"))
        }
        if self.database:
            kept["REFIT_DATABASE_URL"] = self.database
        return kept


@contextmanager
def new_store(folder: Path, *, like: Store | None = None) -> Iterator[Store]:
    """An empty store, or a copy of one that nobody has open."""
    if like is not None:
        shutil.copytree(like.folder, folder)
    folder.mkdir(parents=True, exist_ok=True)
    with ExitStack() as stack:
        database = ""
        if POSTGRESQL:
            original = like.database if like is not None else ""
            database = stack.enter_context(scratch_database(POSTGRESQL, like=original))
        yield Store(folder, database)


def migrate(store: Store) -> None:
    subprocess.run(
        [sys.executable, "manage.py", "migrate", "-v0"],
        cwd=ROOT,
        env=store.environment | {"REFIT_DATA": str(store.folder)},
        check=True,
        timeout=START_SECONDS,
    )


class Server:
    """A running ``serve``; ``said`` is what it has printed so far."""

    def __init__(self, store: Store, *words: str) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        self.address = f"http://127.0.0.1:{port}"
        self._log = store.folder / "serve.log"
        with self._log.open("w") as log:
            self._process = subprocess.Popen(
                [sys.executable, "manage.py", "serve", f"--port={port}",
                 f"--data={store.folder}", *words],
                cwd=ROOT,
                env=store.environment,
                stdout=log,
                stderr=subprocess.STDOUT,
            )  # fmt: skip

    @property
    def said(self) -> str:
        return self._log.read_text()

    def wait(self) -> None:
        """Until it serves. Raises AssertionError with what it said if it does not come up."""
        until = time.monotonic() + START_SECONDS
        while "Ctrl-C ends it." not in self.said:
            if self._process.poll() is not None or time.monotonic() > until:
                self._process.kill()
                raise AssertionError(f"serve did not come up:\n{self.said}")
            time.sleep(0.05)

    def end(self) -> None:
        """As Ctrl-C does. Raises AssertionError if it does not end cleanly or said a fault."""
        self._process.send_signal(signal.SIGINT)
        try:
            code = self._process.wait(END_SECONDS)
        finally:
            self._process.kill()
        assert code == 0, self.said
        assert "Traceback" not in self.said, self.said

    def found(self, pattern: str) -> str:
        """The first group of ``pattern`` in what the server printed."""
        match = re.search(pattern, self.said)
        assert match, f"{pattern!r} is not in what serve printed:\n{self.said}"
        return match[1]


@contextmanager
def serving(store: Store, *words: str) -> Iterator[Server]:
    server = Server(store, *words)
    try:
        server.wait()
        yield server
    finally:
        server.end()
