"""The files of the library, read once, and the cautions that processes name.

A file that is no process stops the program at its start (`refit.apps` asks for the library), so
that nobody plans from half of one.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from .process import Missed, Process, ProcessError, Standing, read_process

FOLDER = Path(__file__).with_name("data")
CAUTIONS_FILE = Path(__file__).with_name("cautions.json")


@dataclass(frozen=True)
class Caution:
    key: str
    name: str
    text: str
    sources: tuple[tuple[str, Standing], ...]


@cache
def _cautions_data() -> dict[str, Any]:
    data: dict[str, Any] = json.loads(CAUTIONS_FILE.read_text(encoding="utf-8"))
    return data


@cache
def cautions() -> dict[str, Caution]:
    return {
        key: Caution(
            key,
            one["name"],
            one["text"],
            tuple(
                (source["text"], Standing(source["standing"], source.get("source", "")))
                for source in one["sources"]
            ),
        )
        for key, one in _cautions_data()["cautions"].items()
    }


def deferral() -> str:
    """Who has the last word, as a sentence that stands under every caution."""
    return str(_cautions_data()["deferral"])


def cautions_named(keys: Iterable[str]) -> list[Caution]:
    known = cautions()
    return [known[key] for key in keys if key in known]


def say_cautions(keys: Iterable[str]) -> str:
    """The cautions as the text of a package, ending in who has the last word; empty without any."""
    texts = [f"{one.name}: {one.text}" for one in cautions_named(keys)]
    return "\n".join([*texts, deferral()]) if texts else ""


@cache
def library() -> dict[str, Process]:
    """All processes by key, in the order of their names. Raises `ProcessError`, naming the file."""
    found: dict[str, Process] = {}
    known = frozenset(cautions())
    for file in sorted(FOLDER.glob("*.json")):
        try:
            process = read_process(json.loads(file.read_text(encoding="utf-8")), cautions=known)
        except ValueError as error:
            problems = error.problems if isinstance(error, ProcessError) else [str(error)]
            raise ProcessError([f"{file.name}: {one}" for one in problems]) from None
        if process.key != file.stem:
            raise ProcessError([f"{file.name}: the key inside is {process.key}."])
        found[process.key] = process
    problems = list(_loose_ends(found))
    if problems:
        raise ProcessError(problems)
    return dict(sorted(found.items(), key=lambda item: item[1].name))


def _loose_ends(found: dict[str, Process]) -> Iterable[str]:
    """Processes and steps that are named but not there."""
    for process in found.values():
        for one in process.first:
            other = found.get(one.process)
            if other is None or (one.step and other.step(one.step) is None):
                yield f"{process.key}.json: there is no {one.process} {one.step} to come first."
        for step in process.steps:
            if step.hold and step.hold.missed and step.hold.missed.process not in found:
                yield f"{process.key}.json: there is no process {step.hold.missed.process}."


def remedy_after(process: Process | None, step_key: str) -> tuple[Missed, Process] | None:
    """What to do when the longest wait after this step was missed: why, and the process."""
    step = process.step(step_key) if process is not None else None
    missed = step.hold.missed if step is not None and step.hold is not None else None
    remedy = library().get(missed.process) if missed is not None else None
    return (missed, remedy) if missed is not None and remedy is not None else None
