"""What can be known of the image and the compose file where no container engine runs."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest
import yaml

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "docker"
COMPOSE: dict[str, Any] = yaml.safe_load((FOLDER / "compose.yaml").read_text())
OURS = {
    name: service for name, service in COMPOSE["services"].items() if service["image"] == "refit"
}


def test_the_parts_of_an_installation_are_there_with_what_they_wait_for() -> None:
    services = COMPOSE["services"]
    assert set(services) == {"migrate", "web", "worker", "beat", "db", "redis"}
    for name, service in services.items():
        for other, how in service.get("depends_on", {}).items():
            assert other in services, (name, other)
            if how["condition"] == "service_healthy":
                assert "healthcheck" in services[other], (name, other)
    for name in ("web", "worker", "beat"):
        assert "migrate" in services[name]["depends_on"], name
        assert "healthcheck" in services[name], name


def test_every_volume_is_declared_and_what_must_last_lies_on_one() -> None:
    used = {
        name: [volume.partition(":") for volume in service.get("volumes", [])]
        for name, service in COMPOSE["services"].items()
    }
    assert {source for rows in used.values() for source, _, _ in rows} == set(COMPOSE["volumes"])
    assert [target for _, _, target in used["db"]] == ["/var/lib/postgresql/data"]
    assert [target for _, _, target in used["redis"]] == ["/data"]
    assert {target for name in OURS for _, _, target in used[name]} == {"/data"}
    assert "REFIT_DATA=/data" in (FOLDER / "Dockerfile").read_text()


def test_redis_keeps_what_it_was_given() -> None:
    command = COMPOSE["services"]["redis"]["command"]
    assert "--appendonly yes" in command
    assert "--maxmemory-policy noeviction" in command


def _can_be_run(words: list[str]) -> None:
    if words[:2] == ["python", "manage.py"]:
        words = [sys.executable, *words[1:3], "--help"]
    elif words[:2] == ["python", "-m"]:
        assert find_spec(words[2]), words
        return
    else:
        assert words[:3] == ["celery", "-A", "refit"], words
        # Every option of ours has to be one that the command knows.
        command = [word for word in words[3:] if not word.startswith("-")]
        said = subprocess.run(
            [sys.executable, "-m", *words[:3], *command[:1], "--help"],
            cwd=ROOT, capture_output=True, text=True, timeout=60,
        )  # fmt: skip
        assert said.returncode == 0, said.stderr
        for option in re.findall(r"--[a-z-]+", " ".join(words)):
            assert option in said.stdout, option
        return
    assert subprocess.run(words, cwd=ROOT, capture_output=True, timeout=60).returncode == 0, words


@pytest.mark.parametrize("name", [name for name in OURS if "command" in OURS[name]])
def test_every_command_exists(name: str) -> None:
    _can_be_run(OURS[name]["command"].split())


def test_what_the_image_starts_exists_and_is_copied_into_it() -> None:
    lines = (FOLDER / "Dockerfile").read_text().splitlines()
    command = next(line for line in lines if line.startswith("CMD "))
    words = re.findall(r'"([^"]+)"', command)
    _can_be_run(words)
    module, _, name = words[-1].partition(":")
    assert (ROOT / f"{module.replace('.', '/')}.py").exists()
    assert f"\n{name} = " in (ROOT / f"{module.replace('.', '/')}.py").read_text()
    for line in lines:
        if line.startswith("COPY "):
            for source in line.split()[1:-1]:
                assert (ROOT / source).exists(), source


def test_the_health_checks_name_what_answers() -> None:
    web = " ".join(OURS["web"]["healthcheck"]["test"])
    assert "/health" in web
    for name in ("worker", "beat"):
        words = OURS[name]["healthcheck"]["test"]
        assert words[0] == "CMD"
        _can_be_run(words[1:])


def test_every_variable_is_one_that_the_settings_read() -> None:
    read = set(re.findall(r'"(REFIT_[A-Z_]+)"', (ROOT / "refit" / "settings.py").read_text()))
    named = {
        line.partition("=")[0]
        for line in (FOLDER / "env.example").read_text().splitlines()
        if line and not line.startswith("#")
    }
    for service in OURS.values():
        named |= set(service.get("environment", {}))
    # Compose fills in the first, Celery reads the second.
    assert named - {"POSTGRES_PASSWORD", "REMAP_SIGTERM"} <= read
    assert {"REFIT_DATABASE_URL", "REFIT_REDIS_URL", "REFIT_SECRET_KEY"} <= named


def test_the_scripts_can_be_run() -> None:
    for name in ("backup", "restore"):
        assert os.access(FOLDER / name, os.X_OK), name
        assert subprocess.run(["sh", "-n", str(FOLDER / name)]).returncode == 0
