"""Rules about quotes, goods and change orders: what runs out, what must be ordered, what waits."""

from __future__ import annotations

from collections.abc import Iterator

from .models import NoticeKind
from .picture import Picture
from .rules_common import now_or_morning, step_before, step_reached
from .sentences import day_of
from .things import Thing

DAYS_BEFORE = (1, 3, 7)
NOT_ORDERED_DAYS = (0, 1, 3, 7)
CHANGE_AFTER_DAYS = (0, 2, 5)


def quote_running_out(picture: Picture) -> Iterator[Thing]:
    today = picture.refit.today(picture.now)
    for quote in picture.running_out:
        assert quote.valid_until is not None
        step = step_before((quote.valid_until - today).days, DAYS_BEFORE)
        if step is None:
            continue
        for person in picture.managers:
            yield now_or_morning(
                picture,
                Thing(
                    about=f"{quote.pk}:{quote.valid_until}:{step}",
                    kind=NoticeKind.QUOTE,
                    person=person,
                    short=f"quote of {quote.vendor} for {quote.inquiry}",
                    sentence=f"{quote.vendor} holds to its quote for {quote.inquiry} until"
                    f" {day_of(picture, quote.valid_until)}. Take it, or ask for longer.",
                    tell_at=picture.now,
                ),
            )


def goods_to_order(picture: Picture) -> Iterator[Thing]:
    today = picture.refit.today(picture.now)
    for wanted in picture.goods:
        left = (wanted.by - today).days
        if left > 0:
            before = step_before(left, DAYS_BEFORE)
            if before is None:
                continue
            step, must = f"before {before}", "must be ordered by"
        else:
            step, must = f"late {step_reached(-left, NOT_ORDERED_DAYS)}", "must be ordered today,"
            if left < 0:
                must = "should have been ordered by"
        goods = wanted.goods
        supplier = f" {goods.supplier} supplies it." if goods.supplier else ""
        for person in picture.managers:
            yield now_or_morning(
                picture,
                Thing(
                    about=f"{goods.pk}:{wanted.by}:{step}",
                    kind=NoticeKind.ORDER_BY,
                    person=person,
                    short=f"order {goods.title}",
                    sentence=f"{goods} {must} {day_of(picture, wanted.by)} to be there for"
                    f" {goods.package}.{supplier}",
                    tell_at=picture.now,
                ),
            )


def change_waiting(picture: Picture) -> Iterator[Thing]:
    today = picture.refit.today(picture.now)
    for change in picture.changes:
        asked = picture.refit.local(change.asked_at).date() if change.asked_at else today
        step = step_reached((today - asked).days, CHANGE_AFTER_DAYS)
        about = f"{change.pk}:{asked}:{step}"
        for person in picture.managers:
            yield now_or_morning(
                picture,
                Thing(
                    about=about,
                    kind=NoticeKind.CHANGE,
                    person=person,
                    short=f"{change.code} waits for the owner",
                    sentence=f"{change.code} {change.title} waits for the owner's word since"
                    f" {day_of(picture, asked)}.",
                    tell_at=picture.now,
                ),
            )
        if picture.owner:
            yield now_or_morning(
                picture,
                Thing(
                    about=about,
                    kind=NoticeKind.CHANGE,
                    person=picture.owner,
                    short=f"your word on {change.title}",
                    sentence=f"{change.title} is beyond what was agreed, and waits for your word."
                    " Your page says why, what it costs and what it does to the launch.",
                    tell_at=picture.now,
                    urgent=step == 0,
                    spot=f"change-{change.pk}",
                ),
            )
