"""The planning core: frozen data in, frozen data out.

What may live here: the standard library, numpy, and (for search) OR-tools. No Django, no
Celery, no file or network access, no clock: *now* is always an argument. Ids are strings chosen
by the caller; times are integer minutes from an origin the caller chooses (see `problem`).

One door per question:

=====================================  =====================
earliest, latest, float, what drives   `critical_path`
a plan that can be done                `level`
is this plan true                      `check`
why this day, and how long may it slip `explain`, `drivers`, `slips`
how sure is the launch                 `simulate`
=====================================  =====================
"""

from .breaches import Breach
from .check import check
from .critical_path import Conflict, CriticalPath, Driver, PackageDates, critical_path
from .explain import Cause, CauseKind, drivers, explain
from .level import level
from .sampling import Lateness, Shape
from .simulate import Promise, Risk, simulate
from .slips import Limit, LimitKind, Slip, slips
from .three_point import ThreePoint, probability_within

__all__ = [
    "Breach",
    "Cause",
    "CauseKind",
    "Conflict",
    "CriticalPath",
    "Driver",
    "Lateness",
    "Limit",
    "LimitKind",
    "PackageDates",
    "Promise",
    "Risk",
    "Shape",
    "Slip",
    "ThreePoint",
    "check",
    "critical_path",
    "drivers",
    "explain",
    "level",
    "probability_within",
    "simulate",
    "slips",
]
