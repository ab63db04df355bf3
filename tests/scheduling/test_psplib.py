"""Published instances through `level`; skipped where the files are not at hand."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from refit.scheduling import critical_path
from refit.scheduling.problem import Dependency, Relation
from tests.bench.psplib import Row, read_best_known, read_instance, solve, start_to_start, summary

DATA = Path(os.environ.get("REFIT_PSPLIB", Path(__file__).parents[3] / "shared/data/psplib"))
needs_data = pytest.mark.skipif(not DATA.is_dir(), reason="the instances are not at hand")

SS = Relation.START_TO_START


def test_a_delay_below_zero_becomes_a_maximum_lag_the_other_way_round() -> None:
    # 1 starts at least 4 after 0, and 0 at least -9 after 1: that is, 1 at most 9 after 0.
    forward, window = start_to_start([(0, 1, 4), (1, 0, -9)], 2)
    assert forward == Dependency("0", "1", SS, 4)
    assert (window.before, window.after, window.max_lag) == ("0", "1", 9)


def test_two_that_start_together_make_no_ring() -> None:
    forward, window = start_to_start([(0, 1, 0), (1, 0, 0)], 2)
    assert (forward.before, forward.after, forward.min_lag) == ("0", "1", 0)
    assert (window.before, window.after, window.max_lag) == ("0", "1", 0)


def test_the_summary_counts_what_is_reached_and_what_is_missing() -> None:
    rows = [
        Row("a", 10, False, True, 1.0, 10),
        Row("b", 22, False, False, 2.0, 20),
        Row("c", None, True, True, 3.0, None),
        Row("d", None, False, False, 9.0, None),
    ]
    best = {"a": (10, False), "b": (20, True), "c": (None, False), "d": (5, False)}
    said = summary(rows, best)
    assert "4 instances, 2 proved" in said
    assert "2 of 4 at best known, mean gap 5.00 %, without a schedule: d" in said


@needs_data
@pytest.mark.parametrize("name", ["j301_4.sm", "j3017_2.sm", "j3014_1.sm"])
def test_small_instances_are_solved_to_the_proved_optimum(name: str) -> None:
    row = solve(DATA / "j30" / name, 20.0)
    assert (row.makespan, False) == read_best_known(DATA / "j30" / "best-known.csv")[name]
    assert row.proved


@needs_data
def test_an_instance_with_maximum_lags_is_solved_and_an_impossible_one_recognised() -> None:
    row = solve(DATA / "sm_j30" / "PSP27.SCH", 20.0)
    assert (row.makespan, row.proved) == (60, True)
    row = solve(DATA / "sm_j30" / "PSP220.SCH", 20.0)
    assert (row.makespan, row.infeasible) == (None, True)


@needs_data
def test_the_critical_path_of_an_instance_is_no_longer_than_its_best_schedule() -> None:
    best = read_best_known(DATA / "j120" / "best-known.csv")
    for name, (makespan, _) in best.items():
        assert makespan is not None
        assert critical_path(read_instance(DATA / "j120" / name)).finish <= makespan
