"""The picture in words: the diary and the table, from rows worked out by hand."""

from __future__ import annotations

from dataclasses import replace

from refit.desk.whereabouts.courses import Choice, choose, follow
from refit.desk.whereabouts.days import AtPlace, Diary, keep_diary, say_here, tabulate
from refit.desk.whereabouts.rows import Rows, UseRow

from .rows_builder import ARCH, BOAT, LOFT, SHED, SHOP, day, leg, package, some_rows


def diary_of(rows: Rows) -> Diary:
    courses = follow(rows)
    return keep_diary(rows, courses, choose(rows, courses, Choice()))


def table_of(rows: Rows) -> list[AtPlace]:
    courses = follow(rows)
    chosen = choose(rows, courses, Choice())
    return tabulate(rows, courses, chosen, [SHED, SHOP, LOFT])


def test_the_diary_begins_today_with_what_goes_on() -> None:
    # now is Wed 25 Nov 09:00, day 51 of the rows
    rows = some_rows(
        packages=(
            package("A1", 49, 5, uses=(UseRow(BOAT),), started=True),
            package("A2", 20, 1, uses=(UseRow(BOAT),), started=True, finished=True),
            package("A3", 70, 1, uses=(UseRow(BOAT),)),
        ),
        legs=(),
    )
    diary = diary_of(rows)
    assert diary.coming[0].day == rows.today
    assert [item.text for item in diary.coming[0].happenings] == [
        "A1 Job A1 goes on until Sat 28 Nov 08:00"
    ]
    assert [each.said for each in diary.earlier] == ["Mon 23 Nov", "Mon 26 Oct", "Sun 25 Oct"]
    assert [each.said for each in diary.later] == ["Mon 14 Dec", "Tue 15 Dec"]


def test_today_is_in_the_diary_even_if_nothing_happens() -> None:
    diary = diary_of(some_rows(packages=(), legs=(leg(ARCH, SHED, SHOP, 80),)))
    assert [each.near for each in diary.coming] == ["today"]
    assert diary.coming[0].happenings == ()


def test_a_hold_is_told_when_it_begins_and_when_it_is_over() -> None:
    coat = package("F2", 52, 1, hold=3, uses=(UseRow(BOAT),), hold_reason="cures")
    coming = diary_of(some_rows(packages=(coat,), legs=())).coming
    texts = [(each.said, item.sort, item.text) for each in coming for item in each.happenings]
    assert texts == [
        ("Thu 26 Nov", "starts", "F2 Job F2 starts"),
        ("Fri 27 Nov", "holds", "F2 Job F2 finishes, then holds until Mon 30 Nov 08:00 (cures)"),
        ("Mon 30 Nov", "ends", "F2 Job F2: hold is over"),
    ]


def test_a_move_is_one_line_with_both_places_and_its_lateness() -> None:
    way = leg(ARCH, SHED, SHOP, 53, late="Due for Tue 24 Nov 16:00, and not ready.")
    coming = diary_of(some_rows(packages=(), legs=(way,))).coming
    (item,) = coming[1].happenings
    assert (item.clock, item.text) == ("08:00", "Arch (ST-02) leaves and arrives 09:00")
    assert item.place == "Alder shed → Gannetry metal shop"
    assert item.late == ("Due for Tue 24 Nov 16:00, and not ready.",)


def test_the_table_says_what_is_where_until_when_and_what_follows() -> None:
    at_shed, at_shop, at_loft = table_of(some_rows())
    assert at_loft.spells == ()
    (spell,) = at_shop.spells
    assert (spell.what, spell.since) == ("Arch (ST-02)", "Fri 9 Oct 09:00")
    assert spell.until == "Fri 16 Oct 08:00, then to Alder shed"
    assert [name for name, _ in spell.work] == ["B1 Job B1"]
    arch = [each for each in at_shed.spells if each.what.startswith("Arch")]
    assert [each.until for each in arch] == [
        "Fri 9 Oct 08:00, then to Gannetry metal shop",
        "Mon 19 Oct 08:00, then fitted by C1",
    ]
    boat = at_shed.spells[0]
    assert (boat.since, boat.until) == ("from the start", "stays")


def test_what_is_here_now_is_named_once() -> None:
    rows = replace(some_rows(), now=day(8))
    pieces = tuple(replace(piece, href=f"/{piece.tag}/") for piece in rows.pieces)
    here = say_here(table_of(replace(rows, pieces=pieces)))
    assert here == [
        ("Alder shed", "Sallow Tern (ST-01)"),
        ("Gannetry metal shop", "Arch (ST-02)"),
    ]
