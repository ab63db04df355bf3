"""The thorough planner in a process of its own: OR-tools never enters a web server."""

from __future__ import annotations

import pickle
import subprocess
import sys

from refit.scheduling.trips import plan_trips
from refit.scheduling.trips_problem import TripPlan, TripProblem

_PROGRAM = (
    "import pickle, sys; from refit.scheduling.trips import plan_trips;"
    " problem, seconds = pickle.load(sys.stdin.buffer);"
    " pickle.dump(plan_trips(problem, seconds=seconds, pool=True), sys.stdout.buffer)"
)


def plan_in_child(problem: TripProblem, *, seconds: float) -> TripPlan:
    """What `plan_trips` says with the pool; without it if no process can be started."""
    try:
        done = subprocess.run(
            [sys.executable, "-c", _PROGRAM],
            input=pickle.dumps((problem, seconds)),
            capture_output=True,
            timeout=seconds + 30,
            check=True,
        )
    except (OSError, subprocess.SubprocessError):
        return plan_trips(problem, seconds=1)
    plan: TripPlan = pickle.loads(done.stdout)
    return plan
