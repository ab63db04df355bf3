"""What a person wants to be told, and when: each kind as usual, at once, once a day or not at all,
the hours in which they want to be left alone, and the language in which they read dates.

A wish belongs to a person's part in one refit (side and e-mail address). It mutes reminders, never
access: pages, links and calendars stay as they are. Stopping and asking again is all there is
here; what follows from it is in ``planner.py`` and ``sending.py``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime

from django.core import signing
from django.db import transaction

from refit.work import dates
from refit.work.models import Refit

from .models import DatesWish, HoursWish, How, KindWish, Letter, NoticeKind, NoticeState, Side
from .moments import USUAL_HOURS, QuietHours, digest_moment, is_quiet, next_digest
from .things import Thing

KINDS_OF: dict[Side, tuple[NoticeKind, ...]] = {
    Side.MANAGER: tuple(
        kind for kind in NoticeKind if kind not in (NoticeKind.COMING, NoticeKind.REQUEST)
    ),
    Side.CREW: (NoticeKind.READY, NoticeKind.HOLD_ENDED),
    Side.OWNER: (NoticeKind.DECISION, NoticeKind.CHANGE, NoticeKind.LAUNCH),
    Side.VENDOR: (
        NoticeKind.DUE_SOON,
        NoticeKind.OVERDUE,
        NoticeKind.COMING,
        NoticeKind.BOOKING,
        NoticeKind.CONFIRM,
        NoticeKind.REQUEST,
        NoticeKind.PAPERS,
    ),
}
"""What the rules of ``planner.py`` tell whom."""


def person_key(side: str, email: str) -> str:
    """As `things.Person.key`."""
    return f"{side}:{email.strip().lower()}"


@dataclass(frozen=True)
class Wishes:
    """The wishes of everybody in one refit, by `person_key`. Three queries."""

    kinds: dict[tuple[str, str], How] = field(default_factory=dict)
    hours: dict[str, QuietHours] = field(default_factory=dict)
    languages: dict[str, str] = field(default_factory=dict)
    """In which dates are said; only of those who chose one."""

    @classmethod
    def of(cls, refit: Refit) -> Wishes:
        return cls(
            {
                (wish.person, wish.kind): How(wish.how)
                for wish in KindWish.objects.filter(refit=refit)
            },
            {
                wish.person: QuietHours(wish.starts, wish.ends)
                for wish in HoursWish.objects.filter(refit=refit)
            },
            dict(DatesWish.objects.filter(refit=refit).values_list("person", "language")),
        )

    def how(self, person: str, kind: str) -> How:
        return self.kinds.get((person, kind), How.USUAL)

    def quiet(self, person: str) -> QuietHours:
        return self.hours.get(person, USUAL_HOURS)

    def language(self, person: str) -> str:
        return self.languages.get(person, dates.USUAL)

    def apply(self, things: Iterable[Thing], refit: Refit) -> list[Thing]:
        """What is left to tell, at the moments that these people wish for."""
        kept = [self._as_wished(thing, refit) for thing in things]
        return [thing for thing in kept if thing is not None]

    def _as_wished(self, thing: Thing, refit: Refit) -> Thing | None:
        how, hours = self.how(thing.person.key, thing.kind), self.quiet(thing.person.key)
        if how is How.NEVER:
            return None
        if how is not How.USUAL:
            thing = replace(thing, urgent=how is How.AT_ONCE)
        if hours == USUAL_HOURS:
            return thing
        zone = refit.zone
        day = thing.tell_at.astimezone(zone).date()
        if thing.tell_at == digest_moment(day, zone):
            return replace(thing, tell_at=digest_moment(day, zone, hours))
        if is_quiet(thing.tell_at, zone, hours):
            return replace(thing, tell_at=next_digest(thing.tell_at, zone, hours))
        return thing


@transaction.atomic
def wish_for_kinds(
    *, refit: Refit, person: str, wishes: dict[NoticeKind, How], now: datetime
) -> None:
    """Set how ``person`` is told of some kinds; `How.USUAL` forgets the wish."""
    for kind, how in wishes.items():
        rows = KindWish.objects.filter(refit=refit, person=person, kind=kind)
        if how is How.USUAL:
            rows.delete()
        elif not rows.filter(how=how).exists():
            KindWish.objects.update_or_create(
                refit=refit, person=person, kind=kind, defaults={"how": how, "since": now}
            )


def wish_for_hours(*, refit: Refit, person: str, hours: QuietHours) -> None:
    """Set when ``person`` is left alone; the usual hours forget the wish."""
    if hours == USUAL_HOURS:
        HoursWish.objects.filter(refit=refit, person=person).delete()
    else:
        HoursWish.objects.update_or_create(
            refit=refit,
            person=person,
            defaults={"starts": hours.starts, "ends": hours.ends},
        )


def wish_for_dates(*, refit: Refit, person: str, language: str) -> None:
    """Set in which language dates are said to ``person``; `dates.USUAL` forgets the wish."""
    if language == dates.USUAL:
        DatesWish.objects.filter(refit=refit, person=person).delete()
    else:
        DatesWish.objects.update_or_create(
            refit=refit, person=person, defaults={"language": language}
        )


# --- the door that a letter carries -------------------------------------------------------------

_SIGNER = signing.Signer(salt="refit.notices.stop")


def stop_token(letter: Letter) -> str:
    """Names the letter, and with it the person and the kinds it tells of. Does not run out: a
    reminder can be stopped from an old mail too."""
    return _SIGNER.sign(str(letter.pk))


def letter_for_stop_token(token: str) -> Letter | None:
    try:
        pk = _SIGNER.unsign(token)
    except signing.BadSignature:
        return None
    return Letter.objects.select_related("refit__boat", "vendor").filter(pk=int(pk)).first()


def kinds_told(letter: Letter) -> list[NoticeKind]:
    """The kinds that a letter tells or told of, in the order of `NoticeKind`."""
    told = set(letter.notices.exclude(state=NoticeState.DROPPED).values_list("kind", flat=True))
    return [kind for kind in NoticeKind if kind.value in told]
