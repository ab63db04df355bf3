"""A process becomes packages and dependencies of a refit; one entry of the journal takes it back.

The processes of a refit are those of the library and its own. Everything that is filled in can be
changed afterwards like any other package.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.db.models import ProtectedError

from refit.work.models import (
    Actor,
    CrewMember,
    Dependency,
    JournalEntry,
    OwnProcess,
    Piece,
    PieceEffect,
    PieceUse,
    Place,
    Refit,
    RelationChoice,
    Vendor,
    WorkPackage,
    Zone,
    record,
)
from refit.work.processes import Process, Step, library, say_cautions
from refit.work.rings import ring_closed_by

from .edits import Refused
from .facts import facts_of

APPLIED = "applied"


def processes_of(refit: Refit) -> dict[str, Process]:
    """All processes of the refit by key; its own stand in place of the library's. One query."""
    found = dict(library())
    for row in OwnProcess.objects.filter(refit=refit):
        found[row.key] = row.read_as_own()
    return dict(sorted(found.items(), key=lambda item: item[1].name))


@dataclass
class Application:
    """What the manager chose. ``codes``: the code of the package for each chosen step."""

    process: Process
    codes: dict[str, str]
    place: Place
    vendor: Vendor | None = None
    people: list[CrewMember] = field(default_factory=list)
    pieces: list[Piece] = field(default_factory=list)
    zones: list[Zone] = field(default_factory=list)
    quantity: Decimal | None = None
    minutes: dict[str, tuple[int, int, int]] = field(default_factory=dict)
    """Working time by step where experience says otherwise than the process."""


@dataclass
class Applied:
    packages: list[WorkPackage]
    dependencies: list[Dependency]
    entry: JournalEntry


def free_codes(refit: Refit, wanted: str, steps: list[str]) -> dict[str, str]:
    """A code for each step, WANTED1, WANTED2 …, none of them taken."""
    taken = {code.casefold() for code in refit.packages.values_list("code", flat=True)}
    codes, number = {}, 0
    for step in steps:
        number += 1
        while f"{wanted}{number}".casefold() in taken:
            number += 1
        codes[step] = f"{wanted}{number}"
    return codes


@transaction.atomic
def apply_process(*, refit: Refit, chosen: Application, actor: Actor, now: datetime) -> Applied:
    """One package a chosen step, what they wait for, and one journal entry. Raises `Refused`
    when nothing is chosen, ValidationError when a package cannot be."""
    process = chosen.process
    steps = [step for step in process.steps if step.key in chosen.codes]
    if not steps:
        raise Refused("Choose at least one step.")
    made = {step.key: _package(refit, chosen, step) for step in steps}
    links = _within(refit, process, steps, made)
    links += _to_others(refit, process, steps, made)
    entry = record(
        refit=refit,
        actor=actor,
        now=now,
        verb=APPLIED,
        subject_name=process.name,
        after={
            "packages": [package.pk for package in made.values()],
            "codes": [package.code for package in made.values()],
            "dependencies": [link.pk for link in links],
        },
    )
    return Applied(list(made.values()), links, entry)


def _package(refit: Refit, chosen: Application, step: Step) -> WorkPackage:
    low, likely, high = chosen.minutes.get(step.key) or step.time.of(chosen.quantity)
    quantity = chosen.process.quantity
    package = WorkPackage(
        refit=refit,
        code=chosen.codes[step.key],
        title=step.title,
        scope=step.scope,
        vendor=chosen.vendor,
        place=chosen.place,
        takes_bay=step.takes_bay,
        low_minutes=low,
        likely_minutes=likely,
        high_minutes=high,
        unbroken=step.unbroken,
        hold_minutes=step.hold.minutes if step.hold else 0,
        hold_reason=step.hold.reason[:160] if step.hold else "",
        acceptance=step.say_acceptance(),
        cautions=say_cautions(step.cautions),
        process=chosen.process.key,
        step=step.key,
        quantity=chosen.quantity if quantity else None,
        unit=quantity.unit if quantity and chosen.quantity is not None else "",
    )
    package.full_clean()
    package.save()
    package.people.set([] if chosen.vendor else chosen.people)
    package.zones.set(chosen.zones)
    PieceUse.objects.bulk_create(
        PieceUse(package=package, piece=piece, effect=PieceEffect.NEEDS) for piece in chosen.pieces
    )
    return package


def _within(
    refit: Refit, process: Process, steps: list[Step], made: dict[str, WorkPackage]
) -> list[Dependency]:
    """What the steps wait for among themselves; a step left out hands its waits on."""
    links = []
    for step in steps:
        for before, reason, window in _waits(process, step, set(made)):
            hold = before.hold
            most = hold.most - hold.minutes if window and hold and hold.most is not None else None
            links.append(
                Dependency.objects.create(
                    refit=refit,
                    before=made[before.key],
                    after=made[step.key],
                    relation=RelationChoice.FINISH_TO_START,
                    max_lag_minutes=most,
                    reason=reason[:240],
                )
            )
    return links


def _waits(process: Process, step: Step, there: set[str]) -> list[tuple[Step, str, bool]]:
    found: dict[str, tuple[Step, str, bool]] = {}
    for link in step.after:
        before = process.step(link.step)
        if before is None:
            continue
        if before.key in there:
            found.setdefault(before.key, (before, link.reason, link.in_window))
        else:
            for one in _waits(process, before, there):
                # The window belongs to the step that is left out.
                found.setdefault(one[0].key, (one[0], one[1], False))
    return list(found.values())


def _to_others(
    refit: Refit, process: Process, steps: list[Step], made: dict[str, WorkPackage]
) -> list[Dependency]:
    """What comes first of other processes that the refit has already, and what they wait for."""
    new = {package.pk for package in made.values()}
    others = list(
        refit.packages.exclude(process="").exclude(pk__in=new).prefetch_related("piece_uses")
    )
    own = {use.piece_id for package in made.values() for use in package.piece_uses.all()}
    near = [
        other
        for other in others
        if not own
        or not (theirs := {use.piece_id for use in other.piece_uses.all()})
        or own & theirs
    ]
    links: list[Dependency] = []
    for first in process.first:
        after = made.get(first.own or steps[0].key)
        if after is None:
            continue
        for other in near:
            if other.process == first.process and other.step == first.step:
                links += _link(refit, other, after, first.reason)
    known = processes_of(refit)
    for other in near:
        theirs_process = known.get(other.process)
        for first in theirs_process.first if theirs_process else ():
            own_step = first.own or (theirs_process.steps[0].key if theirs_process else "")
            if first.process == process.key and own_step == other.step and first.step in made:
                links += _link(refit, made[first.step], other, first.reason)
    return links


def _link(refit: Refit, before: WorkPackage, after: WorkPackage, reason: str) -> list[Dependency]:
    """The dependency, unless it would close a ring or hold up what has begun."""
    if after.is_started or ring_closed_by(before=before, after=after):
        return []
    link, is_new = Dependency.objects.get_or_create(
        before=before,
        after=after,
        relation=RelationChoice.FINISH_TO_START,
        defaults={"refit": refit, "reason": reason[:240]},
    )
    return [link] if is_new else []


@transaction.atomic
def take_back_application(*, entry: JournalEntry, actor: Actor, now: datetime) -> JournalEntry:
    """Remove the packages that one application made, whatever was changed on them since.

    Raises `Refused` when one has begun or something else needs it. The new entry keeps their facts.
    """
    packages = list(
        WorkPackage.objects.select_for_update().filter(
            refit_id=entry.refit_id, pk__in=entry.after.get("packages", [])
        )
    )
    if not packages:
        raise Refused("Its packages do not exist any more.")
    for package in packages:
        if package.is_started:
            raise Refused(f"{package.code} has begun. Remove by hand what is not wanted.")
    facts: dict[str, Any] = {package.code: facts_of(package) for package in packages}
    try:
        with transaction.atomic():
            WorkPackage.objects.filter(pk__in=[package.pk for package in packages]).delete()
    except ProtectedError:
        raise Refused("Something else still needs one of its packages.") from None
    return record(
        refit=entry.refit,
        actor=actor,
        now=now,
        verb="undid",
        subject_name=entry.subject_name,
        before={"packages": facts},
        after={"codes": list(facts)},
    )
