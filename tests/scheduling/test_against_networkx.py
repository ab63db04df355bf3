"""Critical path against networkx, on random networks without calendars.

Two translations. Finish-to-start only: packages are nodes, and networkx finds the longest path of
the acyclic graph. All relations and maximum lags: a package is two nodes, its start and its
finish, tied to each other in both directions since its length is fixed; a minimum lag is an arc,
a maximum lag an arc back; earliest dates are longest paths from *now*, latest dates follow from
longest paths to the end, and a cycle of positive length is a contradiction.
"""

from __future__ import annotations

from itertools import pairwise

import networkx as nx
import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from refit.scheduling import critical_path
from refit.scheduling.problem import (
    Calendar,
    Contradiction,
    CycleFound,
    Dependency,
    Package,
    Problem,
    Relation,
)

ALWAYS = Calendar("always", ((0, 1_000_000),))

many = settings(max_examples=600, deadline=None)


@st.composite
def packages(draw: st.DrawFn) -> tuple[Package, ...]:
    size = draw(st.integers(1, 12))
    return tuple(
        Package(
            f"P{i}",
            work=draw(st.integers(0, 50)),
            calendar="always",
            hold=draw(st.sampled_from((0, 0, 5, 30))),
        )
        for i in range(size)
    )


def linked(draw: st.DrawFn, made: tuple[Package, ...], *, forwards: bool) -> list[tuple[int, int]]:
    pairs = [
        (i, j)
        for i in range(len(made))
        for j in range(len(made))
        if (i < j if forwards else i != j)
    ]
    return draw(st.lists(st.sampled_from(pairs), max_size=24)) if pairs else []


@st.composite
def chains(draw: st.DrawFn, *, forwards: bool = True) -> Problem:
    """Finish-to-start; backwards too, so that there may be rings, unless ``forwards``."""
    made = draw(packages())
    pairs = linked(draw, made, forwards=forwards)
    dependencies = tuple(Dependency(f"P{i}", f"P{j}") for i, j in pairs)
    return Problem(tuple(draw(st.permutations(made))), dependencies, (ALWAYS,))


@st.composite
def tangles(draw: st.DrawFn) -> Problem:
    """Every relation, lags of both signs, maximum lags."""
    made = draw(packages())
    dependencies = []
    for i, j in linked(draw, made, forwards=True):
        lag = draw(st.integers(-20, 40))
        window = draw(st.none() | st.integers(lag, lag + 100))
        dependencies.append(
            Dependency(f"P{i}", f"P{j}", draw(st.sampled_from(Relation)), lag, window)
        )
    now = draw(st.integers(0, 100))
    return Problem(tuple(draw(st.permutations(made))), tuple(dependencies), (ALWAYS,), now=now)


def graph_of(problem: Problem) -> nx.DiGraph:
    graph = nx.DiGraph()
    graph.add_nodes_from(package.id for package in problem.packages)
    graph.add_edges_from((d.before, d.after) for d in problem.dependencies)
    return graph


def events_of(problem: Problem) -> nx.MultiDiGraph:
    """Arcs carry the negative of the distance, since networkx looks for the shortest path."""
    graph = nx.MultiDiGraph()
    for package in problem.packages:
        start, finish = (package.id, "start"), (package.id, "finish")
        length = package.work + package.hold
        graph.add_edge("now", start, weight=-problem.now)
        graph.add_edge(start, finish, weight=-length)
        graph.add_edge(finish, start, weight=length)
    for dependency in problem.dependencies:
        first = (dependency.before, "finish" if dependency.relation.from_finish else "start")
        second = (dependency.after, "start" if dependency.relation.to_start else "finish")
        graph.add_edge(first, second, weight=-dependency.min_lag)
        if dependency.max_lag is not None:
            graph.add_edge(second, first, weight=dependency.max_lag)
    return graph


@many
@given(chains(forwards=False))
def test_a_ring_is_found_exactly_where_networkx_finds_one(problem: Problem) -> None:
    graph = graph_of(problem)
    if nx.is_directed_acyclic_graph(graph):
        event("no ring")
        critical_path(problem)
        return
    event("ring")
    with pytest.raises(CycleFound) as found:
        critical_path(problem)
    ring = found.value.ids
    assert len(set(ring)) == len(ring)
    for before, after in pairwise((*ring, ring[0])):
        assert graph.has_edge(before, after)


@many
@given(chains())
def test_the_end_is_the_length_of_the_longest_path(problem: Problem) -> None:
    graph = graph_of(problem)
    length = {package.id: package.work + package.hold for package in problem.packages}
    for before, _, arc in graph.edges(data=True):
        arc["weight"] = length[before]
    # The last package of a path has no arc of its own, hence an end behind every one.
    graph.add_weighted_edges_from((name, "end", length[name]) for name in length)
    path = critical_path(problem)
    assert path.finish == nx.dag_longest_path_length(graph)
    assert sum(length[name] for name in path.chain) == path.finish
    for before, after in pairwise(path.chain):
        assert graph.has_edge(before, after)


@many
@given(tangles())
def test_dates_and_floats_are_longest_paths(problem: Problem) -> None:
    graph = events_of(problem)
    try:
        from_now = nx.single_source_bellman_ford_path_length(graph, "now")
    except nx.NetworkXUnbounded:
        event("contradiction")
        with pytest.raises(Contradiction) as found:
            critical_path(problem)
        # Those named are enough to contradict each other.
        kept = [d for d in problem.dependencies if {d.before, d.after} <= set(found.value.ids)]
        only = Problem(problem.packages, tuple(kept), (ALWAYS,))
        assert nx.negative_edge_cycle(events_of(only))
        return
    event("dated")
    path = critical_path(problem)
    assert path.finish == max(-from_now[package.id, "finish"] for package in problem.packages)
    end = path.finish
    for package in problem.packages:
        graph.add_edge((package.id, "finish"), "end", weight=0)
    graph.remove_node("now")
    to_end = nx.single_source_bellman_ford_path_length(graph.reverse(), "end")
    for row in path.packages:
        assert row.start == -from_now[row.id, "start"]
        assert row.finish == -from_now[row.id, "finish"]
        assert row.latest_start == end + to_end[row.id, "start"]
        assert row.latest_finish == end + to_end[row.id, "finish"]
        assert row.total_float == row.latest_start - row.start
        assert 0 <= row.free_float <= row.total_float


@many
@given(tangles())
def test_what_drives_a_start_leaves_it_no_room(problem: Problem) -> None:
    """On the clock a driver explains its date to the minute, without opening hours between."""
    try:
        path = critical_path(problem)
    except Contradiction:
        return
    for row in path.packages:
        if row.dependency is None:
            assert row.start == row.ready == problem.now
            continue
        dependency, before = row.dependency, path.by_id[row.dependency.before]
        after = path.by_id[dependency.after]
        first = before.finish if dependency.relation.from_finish else before.start
        second = after.start if dependency.relation.to_start else after.finish
        if row.id == dependency.after:
            assert second - first == dependency.min_lag
        else:
            assert second - first == dependency.max_lag
    if problem.packages:
        assert path.by_id[path.chain[-1]].finish == path.finish
        assert path.by_id[path.chain[0]].dependency is None
