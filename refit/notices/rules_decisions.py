"""Rules about what waits for somebody's word."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from refit.quality.models import Decision

from .models import NoticeKind
from .picture import Picture
from .rules_common import now_or_morning, step_reached
from .sentences import moment_of
from .things import Thing

DECISION_AFTER_DAYS = (0, 3, 7)
SHORT_NOTICE = timedelta(days=1)


def decision_waiting(picture: Picture) -> Iterator[Thing]:
    today = picture.refit.today(picture.now)
    for finding in picture.findings:
        step = step_reached(
            (today - picture.refit.local(finding.found_at).date()).days, DECISION_AFTER_DAYS
        )
        last_day = finding.decide_by is not None and (
            picture.now >= finding.decide_by - SHORT_NOTICE
        )
        by = f" Decide by {moment_of(picture, finding.decide_by)}." if finding.decide_by else ""
        asked = finding.decision == Decision.ASK_OWNER
        said = (
            f"{finding.code} {finding.title} waits for the owner's decision.{by}"
            if asked
            else f"{finding.code} {finding.title} waits for your decision.{by}"
        )
        for person in picture.managers:
            yield now_or_morning(
                picture,
                Thing(
                    about=f"{finding.pk}:{finding.decision}:{'last' if last_day else step}",
                    kind=NoticeKind.DECISION,
                    person=person,
                    short=f"decide on {finding.code} {finding.title}",
                    sentence=said,
                    tell_at=picture.now,
                    urgent=last_day,
                ),
            )
        if asked and picture.owner:
            yield now_or_morning(
                picture,
                Thing(
                    about=f"{finding.pk}:{finding.decision}:{step}",
                    kind=NoticeKind.DECISION,
                    person=picture.owner,
                    short=f"your decision on {finding.title}",
                    sentence=f"Something was found: {finding.title}. The refit manager asks for"
                    f" your decision.{by}",
                    tell_at=picture.now,
                ),
            )
