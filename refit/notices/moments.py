"""When a letter may go: the morning hour of the digest and the quiet hours, in a refit's zone.

Pure: no database, no clock. Moments come in and go out as aware datetimes; the answer is in UTC.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo


@dataclass(frozen=True)
class QuietHours:
    """From ``starts`` in the evening until ``ends`` in the morning, when the digest comes."""

    starts: time
    ends: time


DIGEST_AT = time(7)
QUIET_FROM = time(21)
USUAL_HOURS = QuietHours(QUIET_FROM, DIGEST_AT)
"""Nobody collects a piece at night; common practice, no source."""


def to_utc(day: date, at: time, zone: tzinfo) -> datetime:
    """The moment at which clocks in ``zone`` show ``at`` on ``day``.

    A time that the clocks skip moves forward by the gap (01:30 becomes 02:30); of a time that they
    show twice, the first counts.
    """
    # fold=0 is the offset before the change: it gives the first of two, and past a gap the same
    # distance from midnight on the old clock, which the new one shows later.
    return datetime.combine(day, at, tzinfo=zone).replace(fold=0).astimezone(UTC)


def digest_moment(day: date, zone: tzinfo, hours: QuietHours = USUAL_HOURS) -> datetime:
    """When the digest of that local day is due."""
    return to_utc(day, hours.ends, zone)


def next_digest(moment: datetime, zone: tzinfo, hours: QuietHours = USUAL_HOURS) -> datetime:
    """The first digest at or after ``moment``."""
    day = moment.astimezone(zone).date()
    today = digest_moment(day, zone, hours)
    return today if moment <= today else digest_moment(day + timedelta(days=1), zone, hours)


def is_quiet(moment: datetime, zone: tzinfo, hours: QuietHours = USUAL_HOURS) -> bool:
    """Whether people sleep: no letter is sent, however urgent."""
    shown = moment.astimezone(zone).time()
    return shown >= hours.starts or shown < hours.ends
