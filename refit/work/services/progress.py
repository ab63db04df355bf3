"""What happened to a package: started, so much left, finished. Moments in UTC, work in minutes.

A finished package leaves its mark on its pieces: what it takes off is off, what it fits is on the
boat. The entry in the journal keeps both states, so that one undo takes both back.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from refit.work.models import Actor, PieceEffect, PieceUse, WorkPackage, record
from refit.work.wording import say_moment

from .edits import Refused
from .facts import as_json
from .locks import lock_pieces


def _locked(package: WorkPackage) -> WorkPackage:
    lock_pieces(package.refit_id)
    return (
        WorkPackage.objects.select_for_update(of=("self",))
        .select_related("refit", "place")
        .get(pk=package.pk)
    )


def _refuse_outside_scope(package: WorkPackage) -> None:
    if not package.is_agreed:
        raise Refused(
            f"{package.code} is not in the agreed scope: it cannot begin before its change order is"
            " approved."
        )


def _not_in_future(at: datetime, now: datetime, what: str) -> None:
    if at > now:
        raise Refused(f"{what} cannot lie in the future.")


def _write(
    package: WorkPackage,
    facts: dict[str, Any],
    *,
    verb: str,
    actor: Actor,
    now: datetime,
    note: str = "",
    put: tuple[list[Any], list[Any]] = ([], []),
) -> None:
    before = {name: getattr(package, name) for name in facts}
    for name, value in facts.items():
        setattr(package, name, value)
    package.save(update_fields=list(facts))
    record(
        refit=package.refit,
        actor=actor,
        now=now,
        verb=verb,
        subject=package,
        before=before | ({"put": put[0]} if put[0] else {}),
        after=facts | ({"put": put[1]} if put[1] else {}),
        note=note,
    )


@transaction.atomic
def start_package(*, package: WorkPackage, at: datetime, actor: Actor, now: datetime) -> None:
    """Work has begun at ``at``. Raises `Refused` if it had begun, or if ``at`` is to come."""
    locked = _locked(package)
    if locked.started_at is not None:
        raise Refused(f"{locked.code} was started already.")
    _refuse_outside_scope(locked)
    _not_in_future(at, now, "The start")
    _write(locked, {"started_at": at}, verb="started", actor=actor, now=now)


@transaction.atomic
def report_progress(
    *, package: WorkPackage, remaining_minutes: int, actor: Actor, now: datetime, note: str = ""
) -> None:
    """``remaining_minutes`` of working time are left from now. Only while the work is under way."""
    locked = _locked(package)
    if locked.started_at is None:
        raise Refused(f"{locked.code} has not been started yet.")
    if locked.finished_at is not None:
        raise Refused(f"{locked.code} is finished already.")
    _write(
        locked,
        {"remaining_minutes": remaining_minutes},
        verb="reported", actor=actor, now=now, note=note,
    )  # fmt: skip


@transaction.atomic
def finish_package(
    *,
    package: WorkPackage,
    at: datetime,
    actor: Actor,
    now: datetime,
    started_at: datetime | None = None,
    note: str = "",
) -> None:
    """The work ended at ``at`` (its hold runs from there).

    ``started_at`` is taken where no start was recorded; without it that is refused. Raises
    `Refused` if the work had ended already, or if the end lies in the future or before the start.
    """
    locked = _locked(package)
    if locked.finished_at is not None:
        raise Refused(f"{locked.code} was finished already.")
    if locked.started_at is None:
        _refuse_outside_scope(locked)
    start = locked.started_at or started_at
    if start is None:
        raise Refused(f"{locked.code} has not been started yet: say first when it was.")
    _not_in_future(at, now, "The finish")
    if at < start:
        said = say_moment(start, locked.refit.zone)
        raise Refused(f"The finish cannot come before the start, {said}.")
    put = _leave_marks(locked, at)
    _write(
        locked,
        {"started_at": start, "remaining_minutes": None, "finished_at": at},
        verb="finished", actor=actor, now=now, note=note, put=put,
    )  # fmt: skip


@transaction.atomic
def reopen_package(
    *, package: WorkPackage, remaining_minutes: int, actor: Actor, now: datetime, note: str = ""
) -> None:
    """A finished package is under way again. Its pieces stay where the finish left them.

    Raises `Refused` if it is not finished, or if it took pieces off or fitted some: what happened
    to them since is not guessed.
    """
    locked = _locked(package)
    if locked.finished_at is None:
        raise Refused(f"{locked.code} is not finished: say what is left of it instead.")
    if PieceUse.objects.filter(package=locked).exclude(effect=PieceEffect.NEEDS).exists():
        raise Refused(
            f"{locked.code} takes pieces off or fits some. Plan the rework as a package instead."
        )
    _write(
        locked,
        {"finished_at": None, "remaining_minutes": remaining_minutes},
        verb="reopened", actor=actor, now=now, note=note,
    )  # fmt: skip


def _leave_marks(package: WorkPackage, at: datetime) -> tuple[list[Any], list[Any]]:
    """Take off or fit the package's pieces; their states before and after."""
    before, after = [], []
    uses = PieceUse.objects.filter(package=package).exclude(effect=PieceEffect.NEEDS)
    for use in uses.select_related("piece").order_by("piece_id"):
        piece = use.piece
        fitted = use.effect == PieceEffect.FITS
        if piece.fitted == fitted and piece.place_id == package.place_id:
            continue
        before.append(as_json([piece.pk, piece.fitted, piece.place_id, piece.since]))
        piece.fitted, piece.place_id, piece.since = fitted, package.place_id, at
        piece.save(update_fields=["fitted", "place", "since"])
        after.append(as_json([piece.pk, piece.fitted, piece.place_id, piece.since]))
    return before, after
