"""The laws of the picture, on any rows at all, and small pictures worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refit.desk.whereabouts.courses import Choice
from refit.desk.whereabouts.rows import Effect, PieceRow, Rows, UseRow
from refit.desk.whereabouts.shapes import Box, Picture

from .rows_builder import (
    ANY_CHOICE,
    ARCH,
    BOAT,
    HATCH,
    LOFT,
    SHED,
    SHOP,
    any_rows,
    day,
    leg,
    package,
    picture_of,
    some_rows,
)


def overlapping(boxes: list[Box]) -> list[tuple[Box, Box]]:
    return [(one, other) for one, other in combinations(boxes, 2) if one.meets(other)]


@settings(max_examples=80, deadline=None)
@given(any_rows(), ANY_CHOICE, st.sampled_from([None, 21, 56]))
def test_any_rows_and_any_choice_give_a_picture_that_keeps_the_laws(
    rows: Rows, choice: Choice, days: int | None
) -> None:
    picture = picture_of(rows, choice, days)
    check_every_package_is_drawn_exactly_once_in_the_lane_of_its_place(picture, rows, choice)
    assert overlapping([block.box for block in picture.blocks]) == []
    check_no_label_lies_on_another_or_leaves_the_picture(picture)
    check_a_label_stands_inside_its_own_block_or_on_none(picture)
    check_no_leader_runs_through_a_text(picture)
    check_moves_and_branches_end_where_lines_end(picture)
    assert picture == picture_of(rows, choice, days)


def check_every_package_is_drawn_exactly_once_in_the_lane_of_its_place(
    picture: Picture, rows: Rows, choice: Choice
) -> None:
    expected = [
        row.code
        for row in rows.packages
        if choice.piece in (None, *row.pieces)
        and choice.place in (None, row.place)
        and (row.drives or not choice.driving)
    ]
    assert sorted(block.package.code for block in picture.blocks) == sorted(expected)
    lanes = {lane.place.id: lane for lane in picture.lanes}
    for block in picture.blocks:
        lane = lanes[block.package.place]
        assert lane.y <= block.box.y
        assert block.box.bottom <= lane.y + lane.height
        assert block.box.right <= picture.width + 0.01


def check_no_label_lies_on_another_or_leaves_the_picture(picture: Picture) -> None:
    boxes = [label.box for label in picture.labels]
    assert overlapping(boxes) == []
    for box in boxes:
        assert box.x >= 0
        assert box.right <= picture.width + 0.01
        assert box.y >= 0
        assert box.bottom <= picture.height + 0.01


def check_a_label_stands_inside_its_own_block_or_on_none(picture: Picture) -> None:
    blocks = {block.package.code: block for block in picture.blocks}
    for label in picture.labels:
        if label.kind == "inside":
            block = blocks[label.owner]
            assert block.box.x <= label.box.x
            assert label.box.right <= block.hold_x
            edge = min(max(block.ink, block.box.x), block.hold_x)
            assert label.box.right <= edge if label.inked else label.box.x >= edge
        else:
            assert not any(label.box.meets(block.box) for block in blocks.values())


def check_no_leader_runs_through_a_text(picture: Picture) -> None:
    for label in picture.labels:
        if label.leader is None:
            continue
        x, top, bottom = label.leader
        stroke = Box(x - 0.4, top, 0.8, bottom - top)
        assert not any(stroke.meets(other.box) for other in picture.labels)


def check_moves_and_branches_end_where_lines_end(picture: Picture) -> None:
    starts = {(line.piece, line.x0, line.y) for line in picture.lines}
    ends = {(line.piece, line.x1, line.y) for line in picture.lines}
    for slant in picture.slants:
        assert not slant.leaves or (slant.way.piece, slant.x0, slant.y0) in ends
        assert not slant.arrives or (slant.way.piece, slant.x1, slant.y1) in starts
    for branch in picture.branches:
        assert (branch.piece, branch.x, branch.y_piece) in (starts if branch.off else ends)


def test_a_piece_is_drawn_from_coming_off_until_it_is_fitted() -> None:
    # off at the end of A1 (day 2), leaves on day 4; arrives at the shop, leaves on day 11;
    # is fitted by C1, which starts on day 14
    picture = picture_of(some_rows())
    lines = sorted((line for line in picture.lines if line.piece == ARCH), key=lambda line: line.x0)
    x = picture.scale.x
    assert [round(line.x0) for line in lines] == [
        round(x(day(2))),
        round(x(day(4)) + 7),  # pulled to lean: the piece is idle at both ends
        round(x(day(11)) + 7),
    ]
    assert round(lines[-1].x1) == round(x(day(14)))
    assert [(branch.off, branch.inked) for branch in picture.branches] == [
        (True, False),
        (False, False),
    ]


def test_two_packages_on_the_boat_at_once_stand_one_under_the_other_in_its_band() -> None:
    rows = some_rows(
        packages=(
            package("A1", 0, 3, uses=(UseRow(BOAT),)),
            package("A2", 1, 3, uses=(UseRow(BOAT),)),
            package("A3", 4, 1, uses=(UseRow(BOAT),)),
        ),
        legs=(),
    )
    picture = picture_of(rows)
    y = {block.package.code: block.box.y for block in picture.blocks}
    assert y["A1"] == y["A3"] < y["A2"]
    (band,) = [line.band for line in picture.lines if line.band is not None]
    assert all(
        band.y <= block.box.y and block.box.bottom <= band.bottom for block in picture.blocks
    )


def test_blocks_of_a_boat_that_is_back_within_the_hour_do_not_lie_on_each_other() -> None:
    # Over a hundred days these hours are less than the narrowest block is wide.
    uses = (UseRow(BOAT),)
    rows = some_rows(
        packages=(
            package("A1", 10, 0, uses=uses),
            package("A2", 10.01, 0, uses=uses, place=SHOP),
            package("A3", 10.04, 0, uses=uses),
            package("A4", 100, 1, uses=uses),
        ),
        legs=(),
    )
    blocks = {block.package.code: block.box for block in picture_of(rows).blocks}
    assert blocks["A3"].x < blocks["A1"].right
    assert blocks["A3"].y >= blocks["A1"].bottom


def test_a_package_on_two_pieces_is_one_block_and_a_joint() -> None:
    pieces = (*some_rows().pieces, PieceRow(HATCH, "ST-03", "Hatch", place=SHED))
    trial = package("D1", 12, 1, uses=(UseRow(BOAT), UseRow(ARCH), UseRow(HATCH)))
    rows = some_rows(pieces=pieces, packages=(*some_rows().packages, trial))
    picture = picture_of(rows)
    (block,) = [block for block in picture.blocks if block.package.code == "D1"]
    assert block.piece == BOAT
    assert {sleeve.piece for sleeve in picture.sleeves} == {ARCH, HATCH}
    for sleeve in picture.sleeves:
        assert sleeve.tie[1] == block.box.bottom
        assert (sleeve.box.x, sleeve.box.width) == (block.box.x, block.box.width)


def test_work_on_a_piece_that_is_still_on_the_boat_is_drawn_on_the_boat() -> None:
    polish = package("D1", 20, 1, uses=(UseRow(ARCH),))
    picture = picture_of(some_rows(packages=(*some_rows().packages, polish)))
    (block,) = [block for block in picture.blocks if block.package.code == "D1"]
    assert block.piece == BOAT


def test_a_package_that_needs_no_piece_has_a_quiet_track() -> None:
    picture = picture_of(some_rows(packages=(package("O1", 1, 1, place=LOFT),), legs=()))
    (block,) = picture.blocks
    assert block.piece is None
    assert block.box.height < 15


def test_a_move_that_nobody_recorded_is_drawn_as_a_guess() -> None:
    rows = some_rows(legs=(leg(ARCH, SHOP, SHED, 11),))
    slants = picture_of(rows).slants
    assert [(s.way.origin, s.way.destination, s.way.recorded) for s in slants] == [
        (SHED, SHOP, False),
        (SHOP, SHED, True),
    ]


def test_a_piece_that_was_sent_is_off_the_boat_even_if_taking_it_off_was_not_recorded() -> None:
    off = package("A1", 60, 2, uses=(UseRow(BOAT), UseRow(ARCH, Effect.TAKES_OFF)))
    sent = leg(ARCH, SHED, SHOP, 40, sent=True, arrived=True)
    boat, arch = some_rows().pieces
    pieces = (boat, replace(arch, place=SHOP))
    picture = picture_of(some_rows(pieces=pieces, packages=(off,), legs=(sent,)))
    assert picture.slants[0].way == sent
    assert picture.branches == ()


def test_what_has_happened_is_inked_and_the_rest_is_not() -> None:
    rows = some_rows(
        packages=(
            package("A1", 40, 2, uses=(UseRow(BOAT),), started=True, finished=True),
            package("A2", 49, 5, uses=(UseRow(BOAT),), started=True),
            package("A3", 60, 2, uses=(UseRow(BOAT),)),
        ),
        legs=(),
    )
    picture = picture_of(rows)
    done, going, coming = sorted(picture.blocks, key=lambda block: block.box.x)
    assert done.ink == done.box.right
    assert going.box.x < going.ink == picture.scale.x(rows.now) < going.box.right
    assert coming.ink == coming.box.x


def test_a_package_longer_in_words_than_in_time_is_labelled_above_with_a_leader() -> None:
    short = package("A1", 3, 0.5, uses=(UseRow(BOAT),), title="Grind and fill the keel joint")
    picture = picture_of(some_rows(packages=(short,), legs=()))
    (label,) = [label for label in picture.labels if label.owner == "A1"]
    assert label.kind == "above"
    assert label.text.startswith("Grind and fill")
    assert label.leader is not None
    assert label.leader[2] == picture.blocks[0].box.y


def test_a_late_package_says_so_before_its_name() -> None:
    late = package("A1", 3, 9, uses=(UseRow(BOAT),), title="Fill", late=("Too late.",))
    picture = picture_of(some_rows(packages=(late,), legs=()))
    assert [label.text for label in picture.labels if label.owner == "A1"] == ["! Fill"]


def test_choosing_a_piece_leaves_its_packages_and_the_line_of_the_boat() -> None:
    other = package("D1", 20, 1, uses=(UseRow(BOAT),))
    rows = some_rows(packages=(*some_rows().packages, other))
    picture = picture_of(rows, Choice(piece=ARCH))
    assert {block.package.code for block in picture.blocks} == {"A1", "B1", "C1"}
    assert {line.piece for line in picture.lines} == {BOAT, ARCH}


def test_choosing_a_place_leaves_its_lane_and_moves_that_end_at_its_edge() -> None:
    picture = picture_of(some_rows(), Choice(place=SHOP))
    assert [lane.place.id for lane in picture.lanes] == [SHOP]
    assert [(slant.leaves, slant.arrives) for slant in picture.slants] == [
        (False, True),
        (True, False),
    ]


def test_choosing_the_driving_chain_leaves_what_drives() -> None:
    rows = some_rows()
    packages = tuple(replace(row, drives=row.code == "B1") for row in rows.packages)
    picture = picture_of(replace(rows, packages=packages), Choice(driving=True))
    assert [block.package.code for block in picture.blocks] == ["B1"]


@pytest.mark.parametrize("days", [None, 21])
def test_four_hundred_packages_keep_the_laws(days: int | None) -> None:
    pieces = tuple(
        PieceRow(n, f"ST-{n:02}", f"Piece {n}", is_boat=n == 1, place=SHED) for n in range(1, 21)
    )
    packages = tuple(
        package(f"P{n:03}", n * 0.7, 0.6, uses=(UseRow(n % 20 + 1),), title=f"Work number {n}")
        for n in range(400)
    )
    picture = picture_of(some_rows(pieces=pieces, packages=packages, legs=()), days=days)
    assert len(picture.blocks) == 400
    assert overlapping([block.box for block in picture.blocks]) == []
    assert overlapping([label.box for label in picture.labels]) == []
