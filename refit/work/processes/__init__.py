"""The library of processes: ways of doing a job, as data files, and those that users add.

Here: what a process says, read and checked (`process`), the files and the cautions (`library`).
Not here: what becomes of one in a refit (`refit.work.services.applying`).
"""

from .library import (
    Caution,
    cautions_named,
    deferral,
    library,
    say_cautions,
)
from .process import (
    Acceptance,
    First,
    Hold,
    Limit,
    Process,
    ProcessError,
    Quantity,
    Step,
    Times,
    read_process,
)

__all__ = [
    "Acceptance",
    "Caution",
    "First",
    "Hold",
    "Limit",
    "Process",
    "ProcessError",
    "Quantity",
    "Step",
    "Times",
    "cautions_named",
    "deferral",
    "library",
    "read_process",
    "say_cautions",
]
