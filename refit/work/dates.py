"""In which language a date is said, where a person chose one for the letters to them.

Only the date: the names of days and months, their order, and how the hour is written, as Django's
tables of languages have them. Everything else stays English. Who chose what: `refit.notices`.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date, datetime

from django.utils import translation
from django.utils.formats import date_format, time_format

USUAL = ""
LANGUAGES: dict[str, str] = {
    "da": "Dansk",
    "de": "Deutsch",
    "en-us": "English (US)",
    "es": "Español",
    "et": "Eesti",
    "fr": "Français",
    "is": "Íslenska",
    "it": "Italiano",
    "nb": "Norsk",
    "nl": "Nederlands",
    "pl": "Polski",
    "pt": "Português",
    "sv": "Svenska",
}
"""By code, in their own words. Languages whose tables put a day and its month together wrongly
(Finnish, Lithuanian) are not offered."""

_spoken: ContextVar[str] = ContextVar("language of dates", default=USUAL)


@contextmanager
def dates_in(language: str) -> Iterator[None]:
    """Inside, days and moments are said in ``language``; `USUAL` or an unknown one: as usual."""
    before = _spoken.set(language if language in LANGUAGES else USUAL)
    try:
        yield
    finally:
        _spoken.reset(before)


def day_as_chosen(day: date, with_year: bool) -> str | None:
    """“Mi 25. November”, with the year if wanted; None where nothing was chosen."""
    if not (language := _spoken.get()):
        return None
    with translation.override(language):
        name = date_format(day, "D", use_l10n=False)
        rest = date_format(day, "DATE_FORMAT" if with_year else "MONTH_DAY_FORMAT")
    return f"{name} {rest}"


def hour_as_chosen(local: datetime) -> str | None:
    """“14:00”, “2 p.m.”; None where nothing was chosen."""
    if not (language := _spoken.get()):
        return None
    with translation.override(language):
        return time_format(local.time(), "TIME_FORMAT")


def example(language: str) -> str:
    """“Deutsch: Mi 25. November 14:30”, for a list to choose from."""
    with dates_in(language):
        moment = datetime(2026, 11, 25, 14, 30)  # noqa: DTZ001 (a date to read, of no place)
        said = f"{day_as_chosen(moment.date(), False)} {hour_as_chosen(moment)}"
        return f"{LANGUAGES[language]}: {said}"
