"""``docker/requirements.txt`` pins what ``pyproject.toml`` asks for, all of it and nothing else.

Write it anew after a change of the dependencies:
``uv export --no-dev --no-emit-project --no-header -o docker/requirements.txt``
"""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import PackageNotFoundError, requires
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "docker" / "requirements.txt").read_text()
HOW = "run: uv export --no-dev --no-emit-project --no-header -o docker/requirements.txt"


def pinned() -> dict[str, Requirement]:
    lines = re.findall(r"^([a-zA-Z0-9][^\\\n]*?)\s*\\?$", TEXT, re.MULTILINE)
    return {canonicalize_name(one.name): one for one in map(Requirement, lines)}


def asked() -> list[Requirement]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    return [Requirement(line) for line in project["dependencies"]]


def test_every_dependency_is_pinned_at_a_version_that_is_allowed() -> None:
    pins = pinned()
    for wanted in asked():
        name = canonicalize_name(wanted.name)
        assert name in pins, f"{name} is missing; {HOW}"
        (version,) = pins[name].specifier
        assert version.operator == "=="
        assert wanted.specifier.contains(version.version), f"{name}; {HOW}"


def needed() -> set[str]:
    """Names of all that the dependencies need here, as the installed packages say."""
    names: set[str] = set()
    waiting = [(one.name, one.extras) for one in asked()]
    seen: set[tuple[str, frozenset[str]]] = set()
    while waiting:
        name, extras = waiting.pop()
        key = (canonicalize_name(name), frozenset(extras))
        if key in seen:
            continue
        seen.add(key)
        names.add(key[0])
        try:
            lines = requires(name) or []
        except PackageNotFoundError:
            continue
        for one in map(Requirement, lines):
            if one.marker is None or any(
                one.marker.evaluate({"extra": extra}) for extra in ["", *extras]
            ):
                waiting.append((one.name, one.extras))
    return names


def test_what_they_need_in_turn_is_pinned_too_and_nothing_is_left_over() -> None:
    pins, names = pinned(), needed()
    assert names <= set(pins), f"missing {sorted(names - set(pins))}; {HOW}"
    # A pin with a marker is for other machines or versions than this one.
    over = {name for name, pin in pins.items() if pin.marker is None} - names
    assert over == set(), f"left over {sorted(over)}; {HOW}"


def test_every_pin_has_its_checksum_and_no_host_is_named() -> None:
    assert len(pinned()) > 20
    for block in re.split(r"\n(?=[a-zA-Z0-9])", TEXT.strip()):
        assert "--hash=sha256:" in block, block.splitlines()[0]
    assert "://" not in TEXT
