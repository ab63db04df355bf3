"""Rules about what the plan does: a promise that changed, a launch that moved, no plan at all."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from datetime import date, datetime, timedelta

from refit.work.wording import say_day

from .models import NoticeKind, Side
from .picture import FRESH, Picture
from .rules_common import now_or_morning
from .sentences import day_of, effect_on_launch, further, moment_of
from .things import Person, Thing

PLAN_PATIENCE = timedelta(minutes=15)
"""How long a promise waits for the plan that says what it does."""
TROUBLE_PATIENCE = timedelta(minutes=10)
"""Somebody in the middle of editing sees the trouble on the page."""


def promise_changed(picture: Picture) -> Iterator[Thing]:
    seen: set[int] = set()
    for entry in picture.promises:
        if entry.subject_id is None or entry.subject_id in seen:
            continue
        seen.add(entry.subject_id)
        handoff = picture.promised[entry.subject_id]
        planned_since = bool(picture.launches) and picture.launches[-1].computed_at >= entry.at
        if handoff.promised_at is None or not (
            planned_since or picture.now >= entry.at + PLAN_PATIENCE
        ):
            continue
        earlier = entry.before.get("promised_at") or entry.before.get("due_at")
        instead = ""
        if earlier and datetime.fromisoformat(earlier) != handoff.promised_at:
            instead = f" instead of {moment_of(picture, datetime.fromisoformat(earlier))}"
        note = f" “{entry.note}”" if entry.note else ""
        effect = effect_on_launch(picture, entry.at) if planned_since else ""
        for person in picture.managers:
            yield now_or_morning(
                picture,
                Thing(
                    about=f"{entry.pk}",
                    kind=NoticeKind.PROMISE,
                    person=person,
                    short=f"{handoff.piece.name}: promised for"
                    f" {say_day(picture.refit.local(handoff.promised_at).date())}",
                    sentence=f"{entry.actor_name} promises {handoff.piece.name} for"
                    f" {moment_of(picture, handoff.promised_at)}{instead}.{note}{effect}",
                    tell_at=picture.now,
                    urgent=True,
                ),
            )


def launch_moved(picture: Picture) -> Iterator[Thing]:
    if picture.current_launch is None:
        return
    day = picture.refit.local(picture.current_launch).date()
    readers = picture.managers + ([picture.owner] if picture.owner else [])
    for person in readers:
        told = picture.launch_told.get(person.key)
        known = _launch_known_to(picture, person)
        if known is None or known == day:
            continue
        yield now_or_morning(
            picture,
            Thing(
                about=f"{told.notice_id if told else 0}:{known}>{day}",
                kind=NoticeKind.LAUNCH,
                person=person,
                short=f"launch now on {say_day(day)}",
                sentence=f"The launch is now planned for {day_of(picture, day)},"
                f" {further(known, day)} than {day_of(picture, known)}, the date before.",
                tell_at=picture.now,
                payload={"day": day.isoformat()},
            ),
        )


def no_plan(picture: Picture) -> Iterator[Thing]:
    trouble = picture.trouble
    if trouble is None or trouble.at > picture.now - TROUBLE_PATIENCE:
        return
    what = hashlib.sha256(trouble.sentence.encode()).hexdigest()[:16]
    for person in picture.managers:
        yield now_or_morning(
            picture,
            Thing(
                about=f"{what}:{picture.refit.local(trouble.at).date()}",
                kind=NoticeKind.NO_PLAN,
                person=person,
                short="no plan could be made",
                sentence=f"No plan could be made after the last change: {trouble.sentence}"
                " The pages show the last plan that could.",
                tell_at=picture.now,
                urgent=True,
            ),
        )


def _launch_known_to(picture: Picture, person: Person) -> date | None:
    """What the person was last told, or else found: the owner when the page was opened for them,
    a manager two days ago. None: nothing to compare with."""
    if told := picture.launch_told.get(person.key):
        return date.fromisoformat(told.day)
    if person.side == Side.OWNER:
        found = picture.launch_at_invitation
        known = found.launch_at if found else None
    else:
        known = picture.launch_before(picture.now - FRESH)
    return picture.refit.local(known).date() if known else None
