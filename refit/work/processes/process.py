"""What a process is, and reading one from plain data. Pure: no database, no files but the schema.

Every value carries its standing: published with its source, read second-hand, calculated, common
practice without a source, from memory, or the user's own experience.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator

from refit.work.wording import say_typed

SCHEMA_FILE = Path(__file__).with_name("process.schema.json")
NEEDS_SOURCE = ("published", "published, read second-hand")


class ProcessError(ValueError):
    """The data is no process. ``problems`` are sentences, each saying where."""

    def __init__(self, problems: list[str]) -> None:
        self.problems = problems
        super().__init__("\n".join(problems))


@dataclass(frozen=True)
class Standing:
    """How far a value can be trusted."""

    word: str
    source: str = ""

    def __str__(self) -> str:
        if self.word == "common practice":
            return "common practice, no source"
        return f"{self.word}: {self.source}" if self.source else self.word


@dataclass(frozen=True)
class Times:
    """Working time in minutes, low, likely and high: ``setup`` once, ``each`` for every unit."""

    setup: tuple[float, float, float]
    each: tuple[float, float, float]
    standing: Standing

    def of(self, quantity: Decimal | None) -> tuple[int, int, int]:
        """Whole minutes for so many units; one unit where the process has no quantity."""
        many = 1.0 if quantity is None else float(quantity)
        low, likely, high = (
            round(setup + each * many) for setup, each in zip(self.setup, self.each, strict=True)
        )
        return low, likely, high


@dataclass(frozen=True)
class Missed:
    """What is done when the longest wait was missed: a process, and why."""

    process: str
    reason: str


@dataclass(frozen=True)
class Hold:
    """Elapsed minutes from the end of the work: ``minutes`` at least, ``most`` until what has to
    follow within the window."""

    minutes: int
    most: int | None
    reason: str
    missed: Missed | None
    standing: Standing


@dataclass(frozen=True)
class Limit:
    """``what``: air or surface temperature and spread in °C, humidity in %."""

    what: str
    least: Decimal | None
    most: Decimal | None
    standing: Standing


@dataclass(frozen=True)
class After:
    step: str
    reason: str
    in_window: bool
    standing: Standing


@dataclass(frozen=True)
class Acceptance:
    """In words, and, where it can be computed, as a method with a rule and its limits."""

    text: str
    method: str
    geometry: str
    rule: str
    low: Decimal | None
    high: Decimal | None
    stations: int
    standing: Standing


@dataclass(frozen=True)
class Step:
    key: str
    title: str
    scope: str
    time: Times
    unbroken: bool
    takes_bay: bool
    hold: Hold | None
    air: str
    zones: tuple[str, ...]
    limits: tuple[Limit, ...]
    after: tuple[After, ...]
    cautions: tuple[str, ...]
    acceptance: tuple[Acceptance, ...]
    materials: tuple[str, ...]

    def say_acceptance(self) -> str:
        return "\n".join(one.text for one in self.acceptance)


@dataclass(frozen=True)
class First:
    """Another process (a step of it) comes before ``own`` step of this one (empty: its first)."""

    process: str
    step: str
    own: str
    reason: str
    standing: Standing


@dataclass(frozen=True)
class Quantity:
    unit: str
    of: str
    typical: Decimal | None
    standing: Standing


@dataclass(frozen=True)
class Process:
    key: str
    name: str
    about: str
    quantity: Quantity | None
    first: tuple[First, ...]
    steps: tuple[Step, ...]
    data: dict[str, Any] = field(compare=False, repr=False)
    """The plain data it was read from."""
    is_own: bool = False
    """Added by a user, not from the library."""

    def step(self, key: str) -> Step | None:
        return next((step for step in self.steps if step.key == key), None)

    @property
    def cautions(self) -> list[str]:
        """The keys of all its cautions, each once, in the order of the work."""
        return list(dict.fromkeys(key for step in self.steps for key in step.cautions))


@cache
def _validator() -> Draft202012Validator:
    return Draft202012Validator(json.loads(SCHEMA_FILE.read_text(encoding="utf-8")))


def read_process(data: Any, *, cautions: frozenset[str] | None = None) -> Process:
    """The process in plain data. Raises `ProcessError` with everything that is wrong with it.

    ``cautions``: the keys that exist; None leaves that question open.
    """
    errors = sorted(_validator().iter_errors(data), key=lambda error: list(map(str, error.path)))
    if errors:
        raise ProcessError([_sentence(error, data) for error in errors[:30]])
    problems = list(_between(data, cautions))
    if problems:
        raise ProcessError(problems)
    quantity = data.get("quantity")
    return Process(
        key=data["key"],
        name=data["name"],
        about=data.get("about", ""),
        quantity=quantity
        and Quantity(
            quantity["unit"], quantity["of"], _number(quantity.get("typical")), _standing(quantity)
        ),
        first=tuple(
            First(
                one["process"], one.get("step", ""), one.get("for", ""), one["reason"],
                _standing(one),
            )
            for one in data.get("first", [])
        ),
        steps=tuple(_step(one) for one in data["steps"]),
        data=data,
    )  # fmt: skip


def _sentence(error: Any, data: Any) -> str:
    here, said = data, ""
    for part in error.absolute_path:
        here = here[part]
        if isinstance(part, int):
            name = here.get("key") if isinstance(here, dict) else None
            said += f" {say_typed(str(name))}" if name else f" {part + 1}"
        else:
            said += f", {part}" if said else part
    title = error.schema.get("title") if isinstance(error.schema, dict) else None
    if error.validator == "pattern" and title:
        text = f"it must be {title}; it is {say_typed(str(error.instance))}."
    elif error.validator == "enum":
        text = (
            f"it must be one of {', '.join(str(one) or 'nothing' for one in error.schema['enum'])}."
        )
    elif error.validator == "anyOf":
        text = "it is neither null nor what the schema asks for."
    else:
        text = f"{error.message[:200]}."
    return f"{said or 'process'}: {text}"


def _between(data: dict[str, Any], cautions: frozenset[str] | None) -> list[str]:
    """What the schema cannot say: steps that exist, times that rise, sources that are given."""
    problems: list[str] = []
    seen: list[str] = []
    for step in data["steps"]:
        at = f"step {say_typed(step['key'])}"
        if step["key"] in seen:
            problems.append(f"{at}: there are two steps of this key.")
        for link in step.get("after", []):
            if link["step"] not in seen:
                problems.append(f"{at}: it comes after {link['step']}, which is no step before it.")
        for name in ("setup", "each"):
            times = step["time"][name]
            if times != sorted(times):
                problems.append(f"{at}: low, likely and high of {name} must rise.")
        hold = step.get("hold")
        if hold and hold.get("most") is not None and hold["most"] < hold["minutes"]:
            problems.append(f"{at}: the longest wait is shorter than the hold.")
        for one in step.get("limits", []):
            least, most = _number(one.get("least")), _number(one.get("most"))
            if least is None and most is None:
                problems.append(f"{at}: the limit of {one['what']} has no number.")
            elif least is not None and most is not None and least > most:
                problems.append(f"{at}: the limits of {one['what']} are the wrong way round.")
        for key in step.get("cautions", []):
            if cautions is not None and key not in cautions:
                problems.append(f"{at}: there is no caution {say_typed(key)}.")
        seen.append(step["key"])
    for one in data.get("first", []):
        if one.get("for") and one["for"] not in seen:
            problems.append(f"first: there is no step {say_typed(one['for'])} here.")
    problems += [
        f"{where}: it is said to be published, so name the source."
        for where, value in _marked(data, "process")
        if value["standing"] in NEEDS_SOURCE and not value.get("source", "").strip()
    ]
    return problems


def _marked(value: Any, where: str) -> list[tuple[str, dict[str, Any]]]:
    found = []
    if isinstance(value, dict):
        if "standing" in value:
            found.append((where, value))
        where = f"step {say_typed(value['key'])}" if "time" in value and "key" in value else where
        for inner in value.values():
            found += _marked(inner, where)
    elif isinstance(value, list):
        for inner in value:
            found += _marked(inner, where)
    return found


def _standing(data: dict[str, Any]) -> Standing:
    return Standing(data["standing"], data.get("source", ""))


def _number(value: Any) -> Decimal | None:
    return None if value is None else Decimal(str(value))


def _three(values: list[float]) -> tuple[float, float, float]:
    low, likely, high = values
    return low, likely, high


def _step(data: dict[str, Any]) -> Step:
    time, hold = data["time"], data.get("hold")
    return Step(
        key=data["key"],
        title=data["title"],
        scope=data.get("scope", ""),
        time=Times(_three(time["setup"]), _three(time["each"]), _standing(time)),
        unbroken=data.get("unbroken", False),
        takes_bay=data.get("takes_bay", False),
        hold=hold and _hold(hold),
        air=data.get("air", ""),
        zones=tuple(data.get("zones", [])),
        limits=tuple(
            Limit(one["what"], _number(one.get("least")), _number(one.get("most")), _standing(one))
            for one in data.get("limits", [])
        ),
        after=tuple(
            After(one["step"], one["reason"], one.get("in_window", False), _standing(one))
            for one in data.get("after", [])
        ),
        cautions=tuple(data.get("cautions", [])),
        acceptance=tuple(
            Acceptance(
                one["text"], one.get("method", ""), one.get("geometry", ""), one.get("rule", ""),
                _number(one.get("low")), _number(one.get("high")), one.get("stations", 1),
                _standing(one),
            )
            for one in data.get("acceptance", [])
        ),
        materials=tuple(data.get("materials", [])),
    )  # fmt: skip


def _hold(data: dict[str, Any]) -> Hold:
    missed = data.get("missed")
    return Hold(
        data["minutes"],
        data.get("most"),
        data["reason"],
        missed and Missed(missed["process"], missed["reason"]),
        _standing(data),
    )
