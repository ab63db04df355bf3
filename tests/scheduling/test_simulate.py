"""Monte Carlo on the levelled chain against figures: closed forms, published, done by hand."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt
from statistics import NormalDist

import numpy as np
import pytest

from refit.scheduling import Risk, level, simulate
from refit.scheduling.problem import (
    DAY,
    HOUR,
    BadProblem,
    BeyondHorizon,
    Calendar,
    Demand,
    Dependency,
    Minutes,
    Outage,
    Package,
    Piece,
    Plan,
    Problem,
    Progress,
    Resource,
    ResourceKind,
)
from refit.scheduling.run_chain import End
from refit.scheduling.run_walk import prepare
from refit.scheduling.sampling import Draws, Lateness, Shape, draw, quantiles
from refit.scheduling.stated import Stated
from tests.scheduling.problems import always_open, at, small_refit

# Against figures


def one(work: Minutes, *, low: Minutes, high: Minutes, **more: object) -> Problem:
    """A single package on a calendar without a break."""
    package = Package("a", work, "always", low=low, high=high, **more)  # type: ignore[arg-type]
    return Problem((package,), (), (always_open(4000),))


def run_all(problem: Problem, **more: object) -> Risk:
    return simulate(problem, level(problem), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("likely", [0, 200, 500, 900, 1000])
def test_pert_beta_quantiles_are_those_of_the_beta_distribution(likely: int) -> None:
    """Against sums of the density on a fine grid: parameters 1 + 4m and 5 - 4m, see `Shape`.

    The sampling error of a quantile is about sqrt(q(1-q)/runs)/density: 0.5 % of the range at
    40,000 runs; four times that is allowed.
    """
    base = 10_000  # the low figure; work of no minutes is a milestone and not drawn
    m, runs = likely / 1000, 40_000
    risk = run_all(one(base + likely, low=base, high=base + 1000), runs=runs)
    x = (np.arange(200_000) + 0.5) / 200_000
    below = np.cumsum(x ** (4 * m) * (1 - x) ** (4 - 4 * m))
    below /= below[-1]
    for share in (0.1, 0.5, 0.8, 0.9):
        expected = base + 1000 * float(np.interp(share, below, x))
        assert risk.by(share) == pytest.approx(expected, abs=20)
    assert risk.mean == pytest.approx(base + (0 + 4 * likely + 1000) / 6, abs=5)
    # variance of a beta distribution: pq / ((p + q)^2 (p + q + 1))
    deviation = 1000 * sqrt((1 + 4 * m) * (5 - 4 * m) / 252)
    assert float(risk.finishes.std()) == pytest.approx(deviation, rel=0.03)


def test_the_tables_hold_the_quantiles_exactly_where_they_are_known() -> None:
    half = quantiles(Shape.PERT_BETA, 0.5)
    assert half[len(half) // 2] == pytest.approx(0.5, abs=1e-9)
    # mode 0: density 5 (1 - x)^4, so x = 1 - (1 - u)^(1/5); mode 1 is its mirror image
    u = np.linspace(0, 1, len(half))
    assert quantiles(Shape.PERT_BETA, 0.0) == pytest.approx(1 - (1 - u) ** 0.2, abs=1e-6)
    assert quantiles(Shape.PERT_BETA, 1.0) == pytest.approx(u**0.2, abs=1e-6)


def test_triangular_quantiles_are_those_of_the_closed_form() -> None:
    """low 0, mode 0.25, high 1 (in thousands): F(x) = x^2 / 0.25 up to the mode, then
    1 - (1 - x)^2 / 0.75."""
    runs = 40_000
    risk = run_all(one(10_250, low=10_000, high=11_000), runs=runs, shape=Shape.TRIANGULAR)
    assert risk.p10 == pytest.approx(10_000 + 1000 * sqrt(0.1 * 0.25), abs=15)
    assert risk.p50 == pytest.approx(10_000 + 1000 * (1 - sqrt(0.5 * 0.75)), abs=15)
    assert risk.p90 == pytest.approx(10_000 + 1000 * (1 - sqrt(0.1 * 0.75)), abs=15)
    assert risk.mean == pytest.approx(10_000 + 1250 / 3, abs=5)


# Hillier and Lieberman's worked example (network and durations as published; the three-point
# values from memory, they give every published duration): id -> (waits for, low, likely, high).
BUILDING = {
    "A": ("", 1, 2, 3),
    "B": ("A", 2, 3.5, 8),
    "C": ("B", 6, 9, 18),
    "D": ("C", 4, 5.5, 10),
    "E": ("C", 1, 4.5, 5),
    "F": ("E", 4, 4, 10),
    "G": ("D", 5, 6.5, 11),
    "H": ("EG", 5, 8, 17),
    "I": ("C", 3, 7.5, 9),
    "J": ("FI", 3, 9, 9),
    "K": ("J", 4, 4, 4),
    "L": ("J", 1, 5.5, 7),
    "M": ("H", 1, 2, 3),
    "N": ("KL", 5, 5.5, 9),
}
UNIT = 1000
"""Minutes that stand for one week, on a calendar without a break."""


def building(names: str) -> Problem:
    packages = tuple(
        Package(name, int(likely * UNIT), "always", low=low * UNIT, high=high * UNIT)
        for name in names
        for _, low, likely, high in [BUILDING[name]]
    )
    dependencies = tuple(
        Dependency(before, name)
        for name in names
        for before in BUILDING[name][0]
        if before in names
    )
    return Problem(packages, dependencies, (always_open(400),))


def test_the_published_path_has_the_published_mean_and_nearly_its_probability() -> None:
    """Mean 44, variance 9 and P(T <= 47) = 0.8413 are published, the last two with the rule that
    a range is six standard deviations wide and with a normal total. A beta distribution with the
    same mean is a little wider in the middle (its range is 5.3 deviations) and narrower at the
    ends: the eight variances sum to 9.29, and P by a normal total to 0.8376. What is left, 0.003,
    is the skew of the sum. So 0.8413 is met within 0.02: 0.007 of that is the difference, the rest
    six standard errors of 40,000 runs.
    """
    path = "ABCEFJLN"
    risk = run_all(building(path), runs=40_000)
    weeks = risk.finishes / UNIT
    variance = 0.0
    for name in path:
        _, low, likely, high = BUILDING[name]
        m = (likely - low) / (high - low)
        variance += (1 + 4 * m) * (5 - 4 * m) / 252 * (high - low) ** 2
    assert float(weeks.mean()) == pytest.approx(44, abs=0.06)
    assert float(weeks.var()) == pytest.approx(variance, rel=0.03)
    assert sum(((BUILDING[n][3] - BUILDING[n][1]) / 6) ** 2 for n in path) == 9
    assert variance == pytest.approx(9.2857, abs=1e-4)
    assert risk.within(47 * UNIT) == pytest.approx(0.8413, abs=0.02)
    assert risk.within(47 * UNIT) == pytest.approx(
        NormalDist(44, sqrt(variance)).cdf(47), abs=0.015
    )


def test_the_whole_published_network_is_less_sure_than_its_one_path() -> None:
    """The published figure looks at one path. The others, one to four weeks shorter on average,
    overtake it in some runs and never make one shorter: the mean rises, the probability falls."""
    path, whole = (
        run_all(building(names), runs=20_000) for names in ("ABCEFJLN", "".join(BUILDING))
    )
    assert (whole.finishes >= path.finishes).all()  # each package has the same luck in both
    assert whole.mean > path.mean + 0.2 * UNIT
    assert whole.within(47 * UNIT) < path.within(47 * UNIT) - 0.01
    assert whole.drives["A"] == whole.drives["B"] == whole.drives["C"] == 1
    assert whole.drives["J"] + whole.drives["H"] == pytest.approx(1)
    assert 0.5 < whole.drives["F"] < whole.drives["J"]
    assert whole.drives["K"] + whole.drives["L"] == pytest.approx(whole.drives["N"])


def test_two_equal_branches_drive_half_of_the_runs_each() -> None:
    packages = (
        Package("left", 500, "always", low=100, high=900),
        Package("right", 500, "always", low=100, high=900),
        Package("launch", 100, "always"),
    )
    problem = Problem(
        packages,
        (Dependency("left", "launch"), Dependency("right", "launch")),
        (always_open(40),),
        target="launch",
    )
    risk = run_all(problem, runs=10_000)
    assert risk.drives["launch"] == 1
    assert risk.drives["left"] + risk.drives["right"] == pytest.approx(1)
    assert risk.drives["left"] == pytest.approx(0.5, abs=0.02)  # four standard errors


# Vendors


def test_a_vendor_is_late_as_often_and_as_long_as_its_figures_say() -> None:
    """On time in 6 of 10, a day in 3, four days in 1."""
    problem = one(DAY, low=DAY, high=DAY)
    late = Lateness("loft", (0,) * 6 + (DAY,) * 3 + (4 * DAY,), ("a",))
    risk = run_all(problem, runs=20_000, late=[late])
    assert risk.planned == risk.p10 == risk.p50 == DAY
    assert (risk.p80, risk.by(0.95)) == (2 * DAY, 5 * DAY)
    assert risk.within(DAY) == pytest.approx(0.6, abs=0.015)
    assert risk.within(2 * DAY) == pytest.approx(0.9, abs=0.01)
    [promise] = risk.promises
    assert (promise.package, promise.vendor) == ("a", "loft")
    # on the day instead: 0.3 days and 0.4 days are saved on average; weighed on 5,000 runs
    assert promise.gain == pytest.approx(0.7 * DAY, abs=0.1 * DAY)
    assert promise.drives == pytest.approx(0.4, abs=0.03)


def both_late(correlation: float) -> float:
    """The probability that two normal figures of this correlation are both in their upper fifth:
    given the common factor they are independent. Summed over the factor."""
    normal = NormalDist()
    limit, shared, own = normal.inv_cdf(0.8), sqrt(correlation), sqrt(1 - correlation)
    steps = [n / 100 for n in range(-600, 601)]
    return sum(
        normal.pdf(z) / 100 * (1 - normal.cdf((limit - shared * z) / own)) ** 2 for z in steps
    )


@pytest.mark.parametrize(("correlation", "both"), [(0.0, 0.04), (0.5, both_late(0.5)), (1.0, 0.2)])
def test_returns_of_one_vendor_go_together_as_far_as_asked(correlation: float, both: float) -> None:
    """Each is a day late in 1 of 5. Both, one after the other: by chance in 1 of 25."""
    problem = Problem(
        (Package("a", DAY, "always"), Package("b", DAY, "always")),
        (Dependency("a", "b"),),
        (always_open(40),),
    )
    late = Lateness("loft", (0, 0, 0, 0, DAY), ("a", "b"), correlation)
    risk = run_all(problem, runs=20_000, late=[late])
    assert 1 - risk.within(4 * DAY - 1) == pytest.approx(both, abs=0.01)
    assert risk.mean == pytest.approx(2.4 * DAY, abs=0.02 * DAY)


def test_lateness_counts_the_vendors_own_hours_and_from_its_promise() -> None:
    """Two hours late, from a promise of Friday 15:00 in a week of 8 to 16: Monday 9:00."""
    problem = small_refit(Package("a", 2 * HOUR, "weekdays", promised=at(4, 15)))
    risk = run_all(problem, runs=10, late=[Lateness("loft", (2 * HOUR,), ("a",))])
    assert risk.planned == at(4, 15)
    assert risk.finishes.tolist() == [at(7, 9)] * 10


def test_a_return_with_room_behind_it_matters_less_than_one_without() -> None:
    packages = (
        Package("frame", 10 * DAY, "always"),
        Package("cushions", 2 * DAY, "always"),
        Package("launch", HOUR, "always"),
    )
    problem = Problem(
        packages,
        (Dependency("frame", "launch"), Dependency("cushions", "launch")),
        (always_open(90),),
        target="launch",
    )
    late = [
        Lateness("welder", (0, 0, DAY), ("frame",)),
        Lateness("upholsterer", (0, 0, 3 * DAY), ("cushions",)),
    ]
    risk = run_all(problem, runs=5_000, late=late)
    assert [promise.package for promise in risk.promises] == ["frame"]
    assert risk.promises[0].gain == pytest.approx(DAY / 3, abs=0.05 * DAY)
    assert risk.drives["cushions"] == 0


# The plan's decisions are kept


def test_a_piece_still_has_to_travel_when_the_shop_is_open() -> None:
    """Work that drags on to Friday 15:00 leaves no time for a two-hour way before closing at
    16:00: the piece comes on Monday at 10:00."""
    piece = Piece("frame", "shed")
    problem = small_refit(
        Package("strip", 8 * HOUR, "weekdays", place="shed", pieces=("frame",), low=480, high=5000),
        Package("weld", HOUR, "weekdays", place="shop", pieces=("frame",)),
        pieces=(piece,),
    )
    walk = prepare(Stated(problem), level(problem))
    drawn = np.array([8, 39, 37], dtype=np.int32) * np.int32(HOUR)
    ends = walk.walk(Draws(3, {"strip": drawn}, {})).ends
    assert ends["strip"][End.FINISH].tolist() == [at(0, 16), at(4, 15), at(4, 13)]
    assert ends["weld"][End.START].tolist() == [at(1, 10), at(7, 10), at(4, 15)]


def test_a_package_that_runs_into_an_outage_waits_until_it_is_over() -> None:
    """The welder is away on Tuesday; four hours from Monday 12:00 just fit, five do not."""
    welder = Resource("welder", 1, ResourceKind.VENDOR, (Outage(at(1), at(2), 1),))
    weld = Package(
        "weld",
        4 * HOUR,
        "weekdays",
        demands=(Demand("welder"),),
        not_before=at(0, 12),
        low=60,
        high=600,
    )
    after = Package("again", HOUR, "weekdays", demands=(Demand("welder"),))
    problem = small_refit(
        weld, after, dependencies=(Dependency("weld", "again"),), resources=(welder,)
    )
    walk = prepare(Stated(problem), level(problem))
    drawn = np.array([4, 5, 1], dtype=np.int32) * np.int32(HOUR)
    ends = walk.walk(Draws(3, {"weld": drawn}, {})).ends
    assert ends["weld"][End.START].tolist() == [at(0, 12), at(2, 8), at(0, 12)]
    # planned after the outage, and stays there even if the welder is done with the first early
    assert ends["again"][End.START].tolist() == [at(2, 8), at(2, 13), at(2, 8)]


def test_work_begun_goes_on_for_as_long_as_remains_in_proportion() -> None:
    """Half of a day's work is left on Monday noon; twice as long a job leaves twice as much."""
    begun = Package(
        "a", 8 * HOUR, "weekdays", progress=Progress(at(0, 8)), low=4 * HOUR, high=16 * HOUR
    )
    problem = small_refit(begun, now=at(0, 12))
    draws = draw(problem, runs=5_000, seed=1, shape=Shape.TRIANGULAR)
    assert 2 * HOUR <= draws.work["a"].min() < 2.1 * HOUR
    assert 7.6 * HOUR < draws.work["a"].max() <= 8 * HOUR
    risk = run_all(problem, runs=100)
    assert risk.planned == at(0, 16)
    assert at(0, 14) <= risk.finishes[0] <= risk.finishes[-1] <= at(1, 12)


def test_a_finished_refit_is_certain() -> None:
    done = Package(
        "a", 8 * HOUR, "weekdays", progress=Progress(at(0, 8), finished=at(0, 15)), low=60, high=900
    )
    risk = run_all(small_refit(done, now=at(1)), runs=5, late=[Lateness("loft", (DAY,), ("a",))])
    assert risk.finishes.tolist() == [at(0, 15)] * 5
    assert risk.drives == {}


def test_percentiles_are_moments_of_runs_and_shares_are_counted_to_the_minute() -> None:
    risk = run_all(one(1000, low=500, high=5000), runs=1_000)
    assert (risk.by(0.8), risk.by(0), risk.by(1)) == (
        risk.finishes[799],
        risk.finishes[0],
        risk.finishes[-1],
    )
    assert risk.within(risk.p80) >= 0.8 > risk.within(risk.p80 - 1)
    assert risk.p10 <= risk.p50 <= risk.p80 <= risk.p90


# What is refused


def test_what_cannot_be_run_is_refused_by_name() -> None:
    problem = one(1000, low=2000, high=3000)
    plan = level(problem)
    with pytest.raises(BadProblem, match="package a: a three-point estimate has to rise"):
        simulate(problem, plan)
    sound = one(1000, low=500, high=3000)
    with pytest.raises(BadProblem, match="0 runs"):
        simulate(sound, plan, runs=0)
    with pytest.raises(BadProblem, match="unknown package b"):
        simulate(sound, plan, late=[Lateness("loft", (0,), ("b",))])
    with pytest.raises(BadProblem, match="two vendors"):
        simulate(sound, plan, late=[Lateness("loft", (0,), ("a",)), Lateness("x", (0,), ("a",))])
    with pytest.raises(BadProblem, match="0 minutes or more"):
        Lateness("loft", (-5,), ("a",))
    with pytest.raises(BadProblem, match="correlation"):
        Lateness("loft", (5,), ("a",), correlation=1.5)


def test_a_plan_of_another_problem_is_refused() -> None:
    problem = one(1000, low=500, high=3000)
    with pytest.raises(BadProblem, match="not one of this problem"):
        simulate(problem, Plan(()))
    with pytest.raises(BadProblem, match="too early"):
        simulate(replace(problem, now=500), level(problem))


def test_runs_past_the_end_of_the_calendar_are_refused_and_not_cut_short() -> None:
    package = Package("a", 1000, "brief", low=500, high=9000)
    problem = Problem((package,), (), (Calendar("brief", ((0, 2000),)),))
    with pytest.raises(BeyondHorizon, match="brief"):
        simulate(problem, level(problem))
