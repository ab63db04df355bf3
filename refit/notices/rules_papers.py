"""Rules about the papers of vendors."""

from __future__ import annotations

from collections.abc import Iterator

from refit.custody.cover import Gap
from refit.work.wording import say_list

from .models import NoticeKind
from .picture import Picture
from .rules_common import now_or_morning, step_before, step_reached, vendor_person
from .sentences import day_of
from .things import Thing

DAYS_BEFORE = (1, 3, 7, 14)


def insurance_running_out(picture: Picture) -> Iterator[Thing]:
    """While something of ours is there, or to go there, past the end of a cover."""
    today = picture.refit.today(picture.now)
    for gap in picture.gaps:
        if gap.ends is None or gap.ends < today:
            over = 0 if gap.ends is None else (today - gap.ends).days
            step = f"over {step_reached(over, (0,))}"
        else:
            before = step_before((gap.ends - today).days, DAYS_BEFORE)
            if before is None:
                continue
            step = f"before {before}"
        told = [(person, f"{gap.sentence} Ask for the new paper.") for person in picture.managers]
        if gap.vendor.email:
            told.append((vendor_person(gap.vendor), _to_the_vendor(picture, gap)))
        for person, sentence in told:
            yield now_or_morning(
                picture,
                Thing(
                    about=f"{gap.vendor.pk}:{gap.kind}:{gap.ends}:{step}",
                    kind=NoticeKind.PAPERS,
                    person=person,
                    short=f"{gap.kind.label} of {gap.vendor}",
                    sentence=sentence,
                    tell_at=picture.now,
                ),
            )


def _to_the_vendor(picture: Picture, gap: Gap) -> str:
    names = say_list([stay.piece.name for stay in gap.stays])
    if gap.ends is None:
        said = f"Your {gap.kind.label}, as it was shown to us, has not begun yet"
    elif gap.ends < picture.refit.today(picture.now):
        said = f"Your {gap.kind.label}, as it was shown to us, ended on {day_of(picture, gap.ends)}"
    else:
        said = f"Your {gap.kind.label}, as it was shown to us, ends on {day_of(picture, gap.ends)}"
    return f"{said}, and it is about {names}. Please send us the new paper."
