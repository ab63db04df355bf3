"""What people do with handoffs: promise, say ready, send, receive, plan by hand, cancel.

Each runs in one transaction (photos are cleaned before it): the pieces are locked, the handoff is
changed by an UPDATE that names the state it must still be in (the second of two people changes no
row and gets a sentence), and the journal gets its entry. `IllegalMove` means that nothing was
changed. Replanning is not done here: a view calls ``refit.planning.services.settle`` afterwards.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.core.files.base import File
from django.db import transaction

from refit.work.models import Actor, JournalEntry, Piece, Place, WorkPackage, record
from refit.work.services import Refused, finish_package, undo_entry
from refit.work.services.edits import KINDS
from refit.work.services.locks import lock_pieces

from . import pictures as photos
from .models import Carrier, End, Handoff, HandoffState
from .stays import (
    end_of_work,
    latest_promise,
    others_still_in_work,
    packages_of_stay,
    start_and_end,
)
from .steps import check_not_under_way, check_state, lock, move, put, whereabouts
from .transitions import Act, IllegalMove, allowed, say_why_not

KINDS["handoff"] = Handoff
NOT_RECORDED = "not recorded"
"""Who sent a piece that arrived without anybody having said that it left."""


@transaction.atomic
def promise(
    *, handoff: Handoff, at: datetime, actor: Actor, now: datetime, note: str = ""
) -> Handoff:
    """The party at the origin promises when the piece can be collected.

    The vendor's packages of this stay get the date too: as the promised end of their work, which
    is a hold earlier, and no earlier than what was promised for their other pieces.
    """
    piece = lock(handoff)
    if at <= now:
        raise IllegalMove("A promised date must lie ahead.")
    note = note.strip()[:240]
    if handoff.promised_at == at and handoff.promise_note == note:
        raise IllegalMove(f"That date is already promised for {piece.name}.")
    before: dict[str, Any] = {
        "promised_at": handoff.promised_at,
        "promise_note": handoff.promise_note,
        "due_at": handoff.due_at,
    }
    move(handoff, Act.PROMISE, promised_at=at, promise_note=note)
    for package in packages_of_stay(handoff):
        end = end_of_work(package, latest_promise(handoff, package, at))
        WorkPackage.objects.filter(pk=package.pk).update(promised=end)
        record(
            refit=handoff.refit,
            actor=actor,
            now=now,
            verb="promised",
            subject=package,
            before={"promised": package.promised},
            after={"promised": end},
            note=note,
            replan=False,
        )
    record(
        refit=handoff.refit,
        actor=actor,
        now=now,
        verb="promised",
        subject=handoff,
        before=before,
        after={"promised_at": at, "promise_note": note, "due_at": handoff.due_at},
        note=note,
    )
    return handoff


@transaction.atomic
def say_ready(*, handoff: Handoff, actor: Actor, now: datetime) -> Handoff:
    """The piece can be collected. The vendor's packages of this stay are finished with it.

    A package that holds several pieces here is finished when the last of them is ready. Ready
    includes the hold: see ``stays.end_of_work``.
    """
    piece = lock(handoff)
    check_state(handoff, Act.SAY_READY)
    if piece.place_id != handoff.origin_id:
        raise IllegalMove(
            f"{piece.name} has not arrived at {handoff.origin}, as far as the record knows. "
            "Confirm first that it is there."
        )
    move(handoff, Act.SAY_READY, ready_at=now, ready_by=actor.name)
    finished = _finish_stay(handoff, piece, actor=actor, now=now)
    record(
        refit=handoff.refit,
        actor=actor,
        now=now,
        verb="said ready",
        subject=handoff,
        before={"state": HandoffState.PLANNED},
        after={"state": handoff.state, "ready_at": now, "finished": finished},
    )
    return handoff


@transaction.atomic
def take_back_ready(*, handoff: Handoff, actor: Actor, now: datetime) -> Handoff:
    """Undo `say_ready`, as long as the piece has not been collected.

    Packages that were finished with it get the dates back that they had, unless somebody has
    changed them since.
    """
    lock(handoff)
    check_state(handoff, Act.TAKE_BACK_READY)
    before = {"state": handoff.state, "ready_at": handoff.ready_at}
    move(handoff, Act.TAKE_BACK_READY, ready_at=None, ready_by="")
    undone = _reopen_packages(handoff, actor=actor, now=now)
    record(
        refit=handoff.refit,
        actor=actor,
        now=now,
        verb="took back ready",
        subject=handoff,
        before=before,
        after={"state": handoff.state, "undone": undone},
    )
    return handoff


def send(
    *,
    handoff: Handoff,
    actor: Actor,
    now: datetime,
    condition: str = "",
    parts: int | None = None,
    pictures: Sequence[File[Any]] = (),
) -> Handoff:
    """The piece leaves its origin: it is at no place until it is received.

    ``parts``: how many were counted, None if nobody did. A vendor's piece that goes without having
    been said to be ready finishes the stay as `say_ready` does. `pictures.NotAPicture` if an upload
    is none.
    """
    clean = photos.clean_all(pictures)
    with transaction.atomic():
        piece = lock(handoff)
        check_state(handoff, Act.SEND)
        check_not_under_way(piece, handoff)
        if piece.place_id not in (None, handoff.origin_id):
            raise IllegalMove(
                f"The record has {piece.name} at {piece.place}, not at {handoff.origin}. "
                f"Say first that it arrived at {handoff.origin}."
            )
        before = whereabouts(handoff, piece)
        finished: list[int] = []
        if handoff.state == HandoffState.PLANNED:
            finished = _finish_stay(handoff, piece, actor=actor, now=now)
        move(
            handoff,
            Act.SEND,
            sent_at=now,
            sent_by=actor.name,
            sent_condition=condition.strip(),
            sent_parts=parts,
        )
        put(piece, place=None, now=now)
        record(
            refit=handoff.refit,
            actor=actor,
            now=now,
            verb="sent",
            subject=handoff,
            before=before,
            after=whereabouts(handoff, piece)
            | {"parts": parts, "pictures": len(clean), "finished": finished},
            note=condition.strip(),
        )
        photos.store_all(clean, handoff=handoff, end=End.SENT, actor=actor, now=now)
        return handoff


def receive(
    *,
    handoff: Handoff,
    actor: Actor,
    now: datetime,
    condition: str = "",
    parts: int | None = None,
    pictures: Sequence[File[Any]] = (),
) -> Handoff:
    """The piece has arrived at its destination, whatever the record said before.

    It is allowed for a piece of which nobody said that it left: shops find things on the bench.
    Sending is then written down for the same moment, by "not recorded". The one thing that the
    record refuses is a piece that is under way to somewhere else.
    """
    clean = photos.clean_all(pictures)
    with transaction.atomic():
        piece = lock(handoff)
        check_state(handoff, Act.RECEIVE)
        check_not_under_way(piece, handoff)
        before = whereabouts(handoff, piece)
        changes: dict[str, Any] = {
            "received_at": max(now, handoff.sent_at or now),
            "received_by": actor.name,
            "received_condition": condition.strip(),
            "received_parts": parts,
        }
        finished: list[int] = []
        if handoff.state == HandoffState.PLANNED:
            finished = _finish_stay(handoff, piece, actor=actor, now=now)
        if handoff.sent_at is None:
            changes |= {"sent_at": now, "sent_by": NOT_RECORDED}
        move(handoff, Act.RECEIVE, **changes)
        put(piece, place=handoff.destination, now=now)
        record(
            refit=handoff.refit,
            actor=actor,
            now=now,
            verb="received",
            subject=handoff,
            before=before,
            after=whereabouts(handoff, piece)
            | {
                "parts": parts,
                "parts_before": handoff.parts_expected,
                "pictures": len(clean),
                "finished": finished,
            },
            note=condition.strip(),
        )
        photos.store_all(clean, handoff=handoff, end=End.RECEIVED, actor=actor, now=now)
        return handoff


@transaction.atomic
def plan_handoff(
    *,
    piece: Piece,
    origin: Place,
    destination: Place,
    actor: Actor,
    now: datetime,
    carrier: Carrier | str = Carrier.CREW,
    depart_at: datetime | None = None,
    arrive_at: datetime | None = None,
    due_at: datetime | None = None,
    for_package: WorkPackage | None = None,
    after_package: WorkPackage | None = None,
) -> Handoff:
    """A handoff by hand. `IllegalMove` if it leads nowhere or the same one is open already."""
    refit = piece.refit
    lock_pieces(refit.pk)
    if origin.pk == destination.pk:
        raise IllegalMove(f"{piece.name} cannot move to the place where it is.")
    if {origin.refit_id, destination.refit_id} != {refit.pk}:
        raise IllegalMove("That place belongs to another refit.")
    same = Handoff.objects.open().filter(piece=piece, origin=origin, destination=destination)
    if same.filter(for_package=for_package, after_package=after_package).exists():
        raise IllegalMove(
            f"A handoff of {piece.name} from {origin} to {destination} is already planned."
        )
    handoff = Handoff.objects.create(
        refit=refit,
        piece=piece,
        origin=origin,
        destination=destination,
        carrier=Carrier(carrier),
        depart_at=depart_at,
        arrive_at=arrive_at,
        due_at=due_at,
        for_package=for_package,
        after_package=after_package,
    )
    record(
        refit=refit,
        actor=actor,
        now=now,
        verb="planned",
        subject=handoff,
        after={"depart_at": depart_at, "arrive_at": arrive_at, "due_at": due_at},
    )
    return handoff


@transaction.atomic
def agree(
    *,
    handoff: Handoff,
    actor: Actor,
    now: datetime,
    due_at: datetime | None,
    carrier: Carrier | str,
) -> Handoff:
    """The manager sets what was agreed: when it is due back and who carries it."""
    lock(handoff)
    if not allowed(Act.SEND, handoff.state):
        raise IllegalMove(say_why_not(Act.SEND, handoff))
    before = {"due_at": handoff.due_at, "carrier": handoff.carrier}
    after = {"due_at": due_at, "carrier": Carrier(carrier)}
    if before == after:
        return handoff
    Handoff.objects.filter(pk=handoff.pk).update(**after)
    handoff.refresh_from_db(fields=["due_at", "carrier"])
    record(
        refit=handoff.refit,
        actor=actor,
        now=now,
        verb="agreed",
        subject=handoff,
        before=before,
        after=after,
    )
    return handoff


@transaction.atomic
def cancel(*, handoff: Handoff, actor: Actor, now: datetime, note: str = "") -> Handoff:
    """The handoff will not happen. One that is under way has turned back to its origin."""
    piece = lock(handoff)
    check_state(handoff, Act.CANCEL)
    before = whereabouts(handoff, piece)
    turned_back = handoff.state == HandoffState.UNDER_WAY
    move(handoff, Act.CANCEL, cancelled_at=now)
    if turned_back:
        put(piece, place=handoff.origin, now=now)
    record(
        refit=handoff.refit,
        actor=actor,
        now=now,
        verb="cancelled",
        subject=handoff,
        before=before,
        after=whereabouts(handoff, piece),
        note=note.strip(),
    )
    return handoff


def _finish_stay(handoff: Handoff, piece: Piece, *, actor: Actor, now: datetime) -> list[int]:
    """Finish the vendor's packages of this stay; the ids of their entries in the journal.

    Nothing if the record never had the piece at the origin: it may have skipped that shop.
    """
    entries: list[int] = []
    if piece.place_id != handoff.origin_id:
        return entries
    for package in packages_of_stay(handoff):
        if others_still_in_work(handoff, package):
            continue
        started, ended = start_and_end(package, ready=now, arrived=piece.since)
        finish_package(package=package, at=ended, started_at=started, actor=actor, now=now)
        if entry := _last_entry(package, "finished"):
            entries.append(entry.pk)
    # What a package fits or takes off has changed with it.
    piece.refresh_from_db(fields=["fitted", "since"])
    return entries


def _reopen_packages(handoff: Handoff, *, actor: Actor, now: datetime) -> list[int]:
    """Undo what the last “ready” finished; a package that was changed since stays as it is."""
    said = _last_entry(handoff, "said ready")
    entries = JournalEntry.objects.filter(
        refit_id=handoff.refit_id, pk__in=said.after["finished"] if said else []
    )
    undone: list[int] = []
    for entry in entries.order_by("-id"):
        try:
            undone.append(undo_entry(entry=entry, actor=actor, now=now).pk)
        except Refused:
            continue
    return undone


def _last_entry(subject: Handoff | WorkPackage, verb: str) -> JournalEntry | None:
    return (
        JournalEntry.objects.filter(
            refit_id=subject.refit_id,
            subject_kind=subject._meta.model_name,
            subject_id=subject.pk,
            verb=verb,
        )
        .order_by("-id")
        .first()
    )
