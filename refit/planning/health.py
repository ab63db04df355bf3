"""Plan health: what a check is, what it looks at, and how its finding is said. Pure.

The checks themselves are in `health_checks`. They are those that practice publishes for schedules:
the fourteen of the Earned Value Management System Program Analysis Pamphlet, DCMA-EA PAM 200.1
(October 2012; its thresholds from memory), and the ten of GAO-16-89G, *Schedule Assessment Guide*.
Each is put into the words of a refit, gives the packages by name, and says what to do. Counts
always; shares only above `FEW` packages, under which they mislead (common practice, no source).
Where those documents and this model differ, the check says so.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from refit.interchange.document import PackageRow, RefitDocument
from refit.work.wording import say_count, say_moment

from .build import Built

FEW = 40
"""Up to so many packages only counts are shown (common practice, no source)."""
LONG_DAYS = 44
"""Working days above which a package is long, and a float high (PAM 200.1; from memory)."""
LONG_SLIP = LONG_DAYS * 7 // 5 * 1440
"""The same in elapsed minutes, at five working days a week."""
INDEX_LIMIT = Decimal("0.95")
"""Below it both indexes are to be looked into (PAM 200.1; from memory)."""


@dataclass(frozen=True)
class Line:
    """One package as the plan has it: code, and what of it matters here."""

    code: str
    start: datetime
    work_finish: datetime
    finish: datetime
    slip_minutes: int | None


@dataclass(frozen=True)
class BaselineLine:
    """One package as a baseline has it."""

    code: str
    finish: datetime


@dataclass(frozen=True)
class Found:
    """A package that a check names, and why."""

    code: str
    said: str = ""


@dataclass(frozen=True)
class Check:
    """What one check found. ``of``: how many packages (or dependencies) it looked at; ``limit``:
    the share in percent up to which it is usual, None where it is none. ``value``: what is said
    instead of a count."""

    title: str
    source: str
    advice: str
    found: list[Found] = field(default_factory=list)
    of: int = 0
    limit: int | None = None
    unit: str = "package"
    value: str = ""
    value_is_good: bool = True
    shows_shares: bool = False

    @property
    def is_good(self) -> bool:
        if self.value:
            return self.value_is_good
        if self.share is not None and self.limit:
            return self.share <= self.limit
        return not self.found

    @property
    def share(self) -> Decimal | None:
        """Percent, only where there is enough to take a share of."""
        if not self.shows_shares or not self.of:
            return None
        return (Decimal(100) * len(self.found) / self.of).quantize(Decimal("0.1"))

    @property
    def said(self) -> str:
        """“3 of 50 packages (6 %)”."""
        if self.value:
            return self.value
        if not self.of:
            return "nothing to look at"
        many = "dependencies" if self.unit == "dependency" else None
        said = f"{len(self.found) or 'none'} of {say_count(self.of, self.unit, many)}"
        if self.share is None or not self.found:
            return said
        usual = f", usual up to {self.limit} %" if self.limit else ""
        return f"{said} ({self.share.normalize():f} %{usual})"


@dataclass(frozen=True)
class Health:
    """All checks; those that ask for something first."""

    checks: list[Check]
    packages: int

    @property
    def open(self) -> list[Check]:
        return [check for check in self.checks if not check.is_good]

    @property
    def good(self) -> list[Check]:
        return [check for check in self.checks if check.is_good]


@dataclass(frozen=True)
class Facts:
    """What the checks look at. ``lines`` by code; ``baseline`` is None if none was kept.

    ``reserve_days`` and ``days_to_launch``: working days from the launch to the day wanted
    (negative: too late), and from now to the launch; None if one of them is not known.
    """

    built: Built
    lines: dict[str, Line]
    driving: list[str]
    now: datetime
    baseline: list[BaselineLine] | None
    baseline_name: str = ""
    reserve_days: int | None = None
    days_to_launch: int | None = None

    @property
    def document(self) -> RefitDocument:
        return self.built.document

    @property
    def open_rows(self) -> list[PackageRow]:
        """Packages that are not finished."""
        return [row for row in self.document["packages"] if row["finished_at"] is None]

    @property
    def waiting_rows(self) -> list[PackageRow]:
        """Packages that have not begun."""
        return [row for row in self.open_rows if row["started_at"] is None]

    def say(self, moment: datetime) -> str:
        zone = self.built.clock.zone
        return say_moment(moment, zone, self.now.astimezone(zone).date())
