"""The critical-path and three-point examples of three textbooks, as printed.

Unit: one week, on a calendar that never closes. The titles of the books are from memory. Where a
value was not read but remembered, it says "from memory"; sums we made ourselves from the lines
before say "recomputed".
"""

from __future__ import annotations

import pytest

from refit.scheduling import CriticalPath, ThreePoint, critical_path, probability_within
from refit.scheduling.problem import WEEK, Calendar, Dependency, Package, Problem

Example = dict[str, tuple[str, tuple[float, float, float]]]
"""Activity: its predecessors (one letter each) and its low, most likely and high time."""

# Hillier and Lieberman, "Introduction to Operations Research", the Reliable Construction project,
# weeks. Names, predecessors and durations: the publisher's slides. Three-point values: from
# memory; they reproduce every printed duration.
RELIABLE: Example = {
    "A": ("", (1, 2, 3)),
    "B": ("A", (2, 3.5, 8)),
    "C": ("B", (6, 9, 18)),
    "D": ("C", (4, 5.5, 10)),
    "E": ("C", (1, 4.5, 5)),
    "F": ("E", (4, 4, 10)),
    "G": ("D", (5, 6.5, 11)),
    "H": ("EG", (5, 8, 17)),
    "I": ("C", (3, 7.5, 9)),
    "J": ("FI", (3, 9, 9)),
    "K": ("J", (4, 4, 4)),
    "L": ("J", (1, 5.5, 7)),
    "M": ("H", (1, 2, 3)),
    "N": ("KL", (5, 5.5, 9)),
}

# Render and Stair, "Quantitative Analysis for Management", the General Foundry project, weeks.
# Network: published; three-point values: published, read second-hand.
FOUNDRY: Example = {
    "A": ("", (1, 2, 3)),
    "B": ("", (2, 3, 4)),
    "C": ("A", (1, 2, 3)),
    "D": ("B", (2, 4, 6)),
    "E": ("C", (1, 4, 7)),
    "F": ("C", (1, 2, 9)),
    "G": ("DE", (3, 4, 11)),
    "H": ("FG", (1, 2, 3)),
}

# Anderson, Sweeney and Williams, "An Introduction to Management Science", the portable vacuum
# cleaner project, weeks. Three-point values: published; predecessors: from memory.
VACUUM: Example = {
    "A": ("", (4, 5, 12)),
    "B": ("", (1, 1.5, 5)),
    "C": ("A", (2, 3, 4)),
    "D": ("A", (3, 4, 11)),
    "E": ("A", (2, 3, 4)),
    "F": ("C", (1.5, 2, 2.5)),
    "G": ("D", (1.5, 3, 4.5)),
    "H": ("BE", (2.5, 3.5, 7.5)),
    "I": ("H", (1.5, 2, 2.5)),
    "J": ("FGI", (1, 2, 3)),
}


def estimates(example: Example) -> dict[str, ThreePoint]:
    return {name: ThreePoint(*points) for name, (_, points) in example.items()}


def planned(example: Example, weeks: dict[str, float]) -> CriticalPath:
    packages = tuple(Package(name, round(weeks[name] * WEEK), "always") for name in example)
    dependencies = tuple(
        Dependency(before, after) for after, (befores, _) in example.items() for before in befores
    )
    return critical_path(Problem(packages, dependencies, (Calendar("always", ((0, 200 * WEEK),)),)))


def by_mean(example: Example) -> CriticalPath:
    return planned(example, {name: three.mean for name, three in estimates(example).items()})


def total_floats(path: CriticalPath) -> dict[str, float]:
    """In weeks, those that are not nought."""
    return {p.id: p.total_float / WEEK for p in path.packages if p.total_float}


def free_floats(path: CriticalPath) -> dict[str, float]:
    return {p.id: p.free_float / WEEK for p in path.packages if p.free_float}


def means(example: Example) -> list[float]:
    return [round(three.mean, 9) for three in estimates(example).values()]


def variance(example: Example, path: str) -> float:
    return sum(estimates(example)[name].variance for name in path)


def probability(example: Example, path: str, limit: float) -> float:
    return probability_within(limit, (estimates(example)[name] for name in path))


def test_reliable_construction_has_the_printed_durations() -> None:
    assert means(RELIABLE) == [2, 4, 10, 6, 4, 5, 7, 9, 7, 8, 4, 5, 2, 6]


def test_reliable_construction_takes_44_weeks_on_the_printed_path() -> None:
    path = by_mean(RELIABLE)
    assert path.finish == 44 * WEEK
    assert "".join(path.chain) == "ABCEFJLN"


def test_reliable_construction_has_the_printed_total_floats() -> None:
    assert total_floats(by_mean(RELIABLE)) == {"D": 4, "G": 4, "H": 4, "M": 4, "I": 2, "K": 1}


def test_reliable_construction_has_free_float_only_where_paths_join() -> None:
    # Recomputed. I: J starts at 25, I ends at 23. K: N starts at 38, K ends at 37. M: ends at 40
    # of 44. D, G and H hand their four weeks on to the next.
    assert free_floats(by_mean(RELIABLE)) == {"I": 2, "K": 1, "M": 4}


def test_reliable_construction_is_84_percent_sure_within_47_weeks() -> None:
    # Variance 9 (published): (47 - 44) / 3 = one standard deviation, normal table 0.8413.
    assert variance(RELIABLE, "ABCEFJLN") == pytest.approx(9)
    assert probability(RELIABLE, "ABCEFJLN", 47) == pytest.approx(0.8413, abs=5e-5)


def test_reliable_construction_at_its_worst_takes_70_weeks_on_another_path() -> None:
    # Recomputed: 3+8+18+10+11+17+3 = 70 through D, G, H and M; the path of the means comes to
    # 3+8+18+5+10+9+7+9 = 69.
    path = planned(RELIABLE, {name: high for name, (_, (_, _, high)) in RELIABLE.items()})
    assert path.finish == 70 * WEEK
    assert "".join(path.chain) == "ABCDGHM"
    assert sum(RELIABLE[name][1][2] for name in "ABCEFJLN") == 69


def test_general_foundry_has_the_printed_durations_and_path() -> None:
    assert means(FOUNDRY) == [2, 3, 2, 4, 4, 3, 5, 2]
    path = by_mean(FOUNDRY)
    assert path.finish == 15 * WEEK
    assert "".join(path.chain) == "ACEGH"


def test_general_foundry_has_the_printed_floats() -> None:
    # Total floats published. Free, recomputed: D ends at 7 and G starts at 8; F ends at 7 and H
    # starts at 13; B ends at 3, when D starts.
    path = by_mean(FOUNDRY)
    assert total_floats(path) == {"B": 1, "D": 1, "F": 6}
    assert free_floats(path) == {"D": 1, "F": 6}


def test_general_foundry_is_71_percent_sure_within_16_weeks() -> None:
    # Published 0.7157, from a table that rounds 1/1.7638 to 0.57; unrounded it is 0.7146.
    assert variance(FOUNDRY, "ACEGH") == pytest.approx(28 / 9)
    assert probability(FOUNDRY, "ACEGH", 16) == pytest.approx(0.7146, abs=5e-5)
    assert probability(FOUNDRY, "ACEGH", 16) == pytest.approx(0.7157, abs=2e-3)


def test_vacuum_project_has_the_printed_path() -> None:
    assert means(VACUUM) == [6, 2, 3, 5, 3, 2, 3, 4, 2, 2]
    path = by_mean(VACUUM)
    assert path.finish == 17 * WEEK
    assert "".join(path.chain) == "AEHIJ"


def test_vacuum_project_has_these_floats() -> None:
    # Recomputed. B ends at 2, H starts at 9. C-F ends at 11, D-G at 14, J starts at 15.
    path = by_mean(VACUUM)
    assert total_floats(path) == {"B": 7, "C": 4, "F": 4, "D": 1, "G": 1}
    assert free_floats(path) == {"B": 7, "F": 4, "G": 1}


def test_vacuum_project_is_97_percent_sure_within_20_weeks() -> None:
    # Published 0.9656 from a table; 3 / sqrt(2.7222) = 1.8183 gives 0.9655.
    assert variance(VACUUM, "AEHIJ") == pytest.approx(2.722, abs=5e-4)
    assert probability(VACUUM, "AEHIJ", 20) == pytest.approx(0.9655, abs=5e-5)


def test_vacuum_project_as_one_copy_has_it_gives_another_float() -> None:
    # One copy lets E wait for B too: 17 weeks all the same, B's float 4 (E starts at 6).
    path = by_mean({**VACUUM, "E": ("AB", VACUUM["E"][1])})
    assert path.finish == 17 * WEEK
    assert total_floats(path)["B"] == 4


def test_a_three_point_estimate_has_to_rise() -> None:
    with pytest.raises(ValueError, match="has to rise: 3, 2, 4"):
        ThreePoint(3, 2, 4)


def test_a_path_without_spread_is_sure_or_hopeless() -> None:
    path = [ThreePoint(2, 2, 2), ThreePoint(3, 3, 3)]
    assert [probability_within(limit, path) for limit in (4.9, 5)] == [0.0, 1.0]
