"""``manage.py serve``, really started, on a free port: asked over HTTP, ended by signal."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals differ on Windows")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class Served:
    """A running ``serve``."""

    def __init__(self, data: Path, port: int, *words: str) -> None:
        self.port = port
        environment = {
            name: value
            for name, value in os.environ.items()
            if not name.startswith(("REFIT_", "DJANGO_"))
        }
        self.process = subprocess.Popen(
            [sys.executable, "manage.py", "serve", f"--port={port}", f"--data={data}", *words],
            cwd=ROOT,
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )

    def get(self, path: str) -> tuple[int, str, str]:
        """Status, address after redirects, body; waits until the server is up."""
        until = time.monotonic() + 60
        while True:
            try:
                address = f"http://127.0.0.1:{self.port}{path}"
                with urllib.request.urlopen(address, timeout=10) as answer:
                    return answer.status, answer.url, answer.read().decode()
            except urllib.error.HTTPError as problem:
                return problem.code, problem.url, problem.read().decode()
            except OSError:
                if self.process.poll() is not None or time.monotonic() > until:
                    self.process.kill()
                    raise AssertionError(self.process.communicate()[0]) from None
                time.sleep(0.1)

    def end(self, by: signal.Signals) -> tuple[int, str, float]:
        """Exit code, all that was printed, and how long it took in seconds."""
        began = time.monotonic()
        self.process.send_signal(by)
        said, _ = self.process.communicate(timeout=30)
        return self.process.returncode, said, time.monotonic() - began


@pytest.fixture
def port() -> int:
    return free_port()


@pytest.fixture
def served(tmp_path: Path, port: int) -> Iterator[Served]:
    running = Served(tmp_path, port)
    yield running
    if running.process.poll() is None:
        running.process.kill()
        running.process.communicate()


def wait_for_schedule(served: Served) -> dict[str, str]:
    """The health page once beat has reached the worker for the first time."""
    until = time.monotonic() + 60
    while True:
        status, _, body = served.get("/health")
        health: dict[str, str] = json.loads(body)
        if health["schedule"] == "ok" or time.monotonic() > until:
            assert status == 200, health
            return health
        time.sleep(0.5)


def test_it_serves_works_ends_cleanly_and_starts_again_with_the_same_data(
    served: Served, tmp_path: Path, port: int
) -> None:
    status, address, body = served.get("/")
    assert status == 200
    assert "/account/" in address
    assert "<form" in body
    assert wait_for_schedule(served) == {
        "status": "ok",
        "database": "ok",
        "broker": "in this process",
        "schedule": "ok",
        "worker": "ok",
    }
    code, said, seconds = served.end(signal.SIGINT)
    assert code == 0, said
    assert "Traceback" not in said
    assert f"refit runs at http://127.0.0.1:{port}/" in said
    assert seconds < 5
    key = (tmp_path / "secret-key").read_text()

    again = Served(tmp_path, port)
    try:
        assert again.get("/")[0] == 200
    finally:
        code, said, seconds = again.end(signal.SIGTERM)
    assert code == 0, said
    assert "Traceback" not in said
    assert seconds < 5
    assert (tmp_path / "secret-key").read_text() == key


def test_the_demo_is_loaded_once_and_its_doors_are_printed(tmp_path: Path, port: int) -> None:
    for start in ("first", "second"):
        served = Served(tmp_path, port, "--demo")
        try:
            assert served.get("/")[0] == 200
        finally:
            code, said, _seconds = served.end(signal.SIGINT)
        assert code == 0, said
        assert "Traceback" not in said
        assert "e-mail    runa@" in said
        assert ("(as shown at the first start)" in said) is (start == "second")
        assert said.count(f"http://127.0.0.1:{port}/p/in/") == 2


def test_a_busy_port_is_said_in_a_sentence(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        second = Served(tmp_path, port)
        said, _ = second.process.communicate(timeout=60)
    assert second.process.returncode == 1
    assert f"Port {port} on 127.0.0.1 is in use" in said
    assert "--port" in said
    assert "Traceback" not in said
    assert not (tmp_path / "refit.sqlite3").exists(), "nothing was touched"


@pytest.mark.parametrize("port", ["0", "65536", "abc"])
def test_a_port_that_is_none_is_refused(tmp_path: Path, port: str) -> None:
    answer = subprocess.run(
        [sys.executable, "manage.py", "serve", "--port", port, "--data", str(tmp_path)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert answer.returncode != 0
    assert "a port is a whole number from 1 to 65535" in answer.stderr
