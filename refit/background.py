"""A Celery worker and its schedule inside the server process, for an installation without Redis.

What belongs here: two daemon threads and how they end. What does not: tasks, the schedule
(``refit.celery``), and anything about an installation with a broker of its own, where worker and
beat are processes started by hand.

Nothing is lost when the process dies: what has to be sent or planned is in the database, the
queue in memory only nudges, and the schedule looks again.
"""

from __future__ import annotations

import logging
import sys
import threading
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, ClassVar

from celery.beat import Service
from celery.platforms import EX_OK
from celery.worker import state as worker_state
from celery.worker.worker import WorkController

from refit.celery import app

log = logging.getLogger(__name__)

RESTART_AFTER_SECONDS = 1.0
ASK_FOR_LOCK_EVERY_SECONDS = 5.0
BEAT_WAKES_EVERY_SECONDS = 1


@app.task(name="refit.background.wake")
def wake() -> None:
    """Nothing: a message on its way lets a waiting worker see at once that it shall end."""


class FolderLock:
    """At most one holder a data folder; the operating system frees it when the process dies."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._file: IO[str] | None = None

    def acquire(self) -> bool:
        """True if this process holds the lock now; never waits."""
        if self._file is not None:
            return True
        self.path.parent.mkdir(parents=True, exist_ok=True)
        file = self.path.open("a")
        try:
            _lock(file)
        except OSError:
            file.close()
            return False
        self._file = file
        return True

    def release(self) -> None:
        if self._file is not None:
            self._file.close()
            self._file = None


def _lock(file: IO[str]) -> None:
    if sys.platform == "win32":
        import msvcrt

        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)


class Background:
    """The worker thread and the beat thread of one server process.

    The worker runs tasks one after another (pool "solo") and is started again when a task takes it
    down. Beat runs in one process a data folder, whoever holds the lock; the others wait for it.
    """

    running: ClassVar[Background | None] = None
    """The one of this process, for the health page."""

    def __init__(self, *, data_folder: Path) -> None:
        self._stopping = threading.Event()
        self._lock = FolderLock(data_folder / "beat.lock")
        self._beat: Service | None = None
        self._worker_thread = threading.Thread(
            target=self._keep_worker, name="refit-worker", daemon=True
        )
        self._beat_thread = threading.Thread(target=self._keep_beat, name="refit-beat", daemon=True)
        self.beats = False
        """Whether this process runs the schedule."""
        self.started_at = datetime.now(UTC)

    def start(self) -> None:
        """Start both threads. Call once, after any fork, in the serving process only."""
        worker_state.should_stop = None
        self.started_at = datetime.now(UTC)
        Background.running = self
        self._worker_thread.start()
        self._beat_thread.start()

    def stop(self, *, within_seconds: float = 2.0) -> bool:
        """Ask both to end. False if a task is still running then; its work is taken up again."""
        self._stopping.set()
        worker_state.should_stop = EX_OK  # type: ignore[assignment]
        # Celery looks at its queue once more after it saw that it shall stop, for up to 2 s.
        wake.delay()
        wake.delay()
        if self._beat is not None:
            self._beat.stop()
        self._worker_thread.join(within_seconds)
        self._beat_thread.join(BEAT_WAKES_EVERY_SECONDS + 0.2)
        self._lock.release()
        Background.running = None
        return not self._worker_thread.is_alive()

    @property
    def works(self) -> bool:
        return self._worker_thread.is_alive() and not self._stopping.is_set()

    def _keep_worker(self) -> None:
        while not self._stopping.is_set():
            try:
                WorkController(
                    app=app,
                    pool="solo",
                    concurrency=1,
                    without_mingle=True,
                    without_gossip=True,
                    without_heartbeat=True,
                ).start()
            except (Exception, SystemExit):
                log.exception("The worker thread fell over; it is started again.")
            self._stopping.wait(RESTART_AFTER_SECONDS)

    def _keep_beat(self) -> None:
        while not self._stopping.is_set():
            if not self._lock.acquire():
                self._stopping.wait(ASK_FOR_LOCK_EVERY_SECONDS)
                continue
            self._beat = Service(
                app, max_interval=BEAT_WAKES_EVERY_SECONDS, scheduler_cls=app.conf.beat_scheduler
            )
            if self._stopping.is_set():
                break
            self.beats = True
            try:
                # A plain schedule waits for its first interval; what is due now need not.
                for entry in app.conf.beat_schedule.values():
                    app.send_task(entry["task"])
                self._beat.start()
            except Exception:
                log.exception("The schedule fell over; it is started again.")
            self.beats = False
            self._stopping.wait(RESTART_AFTER_SECONDS)
