"""The worker and the schedule inside this process, with their memory transport."""

import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from django.conf import settings

from refit.background import Background, FolderLock
from refit.celery import app

pytestmark = pytest.mark.skipif(
    bool(settings.REDIS_URL), reason="this installation has a broker of its own"
)
done: list[str] = []


@app.task(name="tests.say")
def say(word: str) -> None:
    done.append(word)


@app.task(name="tests.leave")
def leave() -> None:
    raise SystemExit(3)


@pytest.fixture
def background(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Background]:
    # The tasks of the project would look for rows in the database of the test.
    monkeypatch.setitem(app.conf, "beat_schedule", {})
    running = Background(data_folder=tmp_path)
    running.start()
    yield running
    running.stop(within_seconds=10)
    done.clear()


def wait_until(true: Callable[[], bool], seconds: float = 15) -> bool:
    until = time.monotonic() + seconds
    while not true():
        if time.monotonic() > until:
            return False
        time.sleep(0.02)
    return True


def test_a_queued_task_runs_in_the_worker_thread(background: Background) -> None:
    say.delay("hello")
    assert wait_until(lambda: done == ["hello"])


def test_a_task_that_takes_the_worker_down_does_not_keep_it_down(background: Background) -> None:
    say.delay("before")
    assert wait_until(lambda: "before" in done)
    leave.delay()
    say.delay("after")
    assert wait_until(lambda: "after" in done)
    assert background.works


def test_it_ends_quickly_and_leaves_no_thread(background: Background) -> None:
    say.delay("hello")
    assert wait_until(lambda: done == ["hello"])
    began = time.monotonic()
    assert background.stop()
    assert time.monotonic() - began < 3
    assert not background.works
    assert Background.running is None
    left = {thread.name for thread in threading.enumerate()}
    assert not left & {"refit-worker", "refit-beat"}


def test_only_one_process_a_folder_runs_the_schedule(
    background: Background, tmp_path: Path
) -> None:
    assert wait_until(lambda: background.beats)
    other = FolderLock(tmp_path / "beat.lock")
    assert not other.acquire()
    background.stop()
    assert other.acquire()
    other.release()


def test_the_schedule_names_tasks_that_exist() -> None:
    app.loader.import_default_modules()
    wanted = {entry["task"] for entry in app.conf.beat_schedule.values()}
    assert wanted <= set(app.tasks)
    assert len(wanted) == 7
