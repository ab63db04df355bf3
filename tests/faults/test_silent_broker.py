"""A broker that takes the connection and says nothing: people are answered, letters are written."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
AT_MOST_SECONDS = 7


@pytest.fixture
def silent_port() -> Iterator[int]:
    """Somebody listens, accepts, and never answers."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        held: list[socket.socket] = []

        def accept() -> None:
            while True:
                try:
                    held.append(server.accept()[0])
                except OSError:
                    return

        threading.Thread(target=accept, daemon=True).start()
        yield server.getsockname()[1]
        for line in held:
            line.close()


def test_with_a_silent_broker_the_answer_comes_and_the_letter_goes(
    silent_port: int, tmp_path: Path
) -> None:
    environment = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("REFIT_", "DJANGO_"))
    } | {"REFIT_DATA": str(tmp_path), "REFIT_REDIS_URL": f"redis://127.0.0.1:{silent_port}/0"}
    answer = subprocess.run(
        [sys.executable, "-m", "tests.faults.asked"],
        cwd=ROOT, env=environment, capture_output=True, text=True, timeout=180,
    )  # fmt: skip
    assert answer.returncode == 0, answer.stderr
    told = json.loads(answer.stdout.splitlines()[-1])
    print("\nsilent broker: answered after", [round(took, 1) for took in told["seconds"]])
    assert (told["status"], told["state"]) == (302, "ready")
    assert max(told["seconds"]) < AT_MOST_SECONDS
    assert told["sent"] >= 1
    assert any("ready to collect" in subject for subject in told["said"])
