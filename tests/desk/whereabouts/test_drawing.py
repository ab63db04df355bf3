"""The drawing is well-formed, says in words what it shows, and asks for no style of its own."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from xml.etree import ElementTree

from hypothesis import given, settings

from refit.desk.whereabouts.courses import Choice
from refit.desk.whereabouts.legend import explain
from refit.desk.whereabouts.pictured import Pictured, draw
from refit.desk.whereabouts.rows import Effect, Rows, UseRow
from refit.desk.whereabouts.text import shorten, text_width, wrap

from .rows_builder import ARCH, BOAT, SHED, WORDS, any_rows, day, leg, package, some_rows


def parsed(shown: Pictured) -> ElementTree.Element:
    return ElementTree.fromstring(
        f"<svg>{shown.patterns}{shown.names}{shown.drawn}{shown.sheet}</svg>"
    )


def css_counts(root: ElementTree.Element) -> Counter[str]:
    return Counter(css for each in root.iter() for css in each.get("class", "").split())


@settings(max_examples=25, deadline=None)
@given(any_rows())
def test_any_picture_is_well_formed_and_has_no_style_of_its_own(rows: Rows) -> None:
    root = parsed(draw(rows, Choice()))
    ids = [each.get("id") for each in root.iter() if each.get("id")]
    assert len(ids) == len(set(ids))
    for each in root.iter():
        assert "style" not in each.attrib
        for value in each.attrib.values():
            assert "nan" not in value.split()
            assert "inf" not in value.split()


def test_every_kind_of_thing_is_drawn_with_its_own_sign() -> None:
    rows = some_rows(
        packages=(
            package("A1", 0, 2, uses=(UseRow(BOAT), UseRow(ARCH, Effect.TAKES_OFF))),
            package("B1", 7, 3, hold=2, place=2, uses=(UseRow(ARCH),), drives=True),
            package("B2", 15, 1, uses=(UseRow(BOAT), UseRow(ARCH))),
            package("C1", 20, 2, uses=(UseRow(BOAT), UseRow(ARCH, Effect.FITS))),
            package("O1", 3, 1),
        ),
        launch_at=day(60),
    )
    counts = css_counts(parsed(draw(rows, Choice())))
    assert counts["wa-plan"] == 5  # nothing has started: all on paper
    assert counts["wa-ink"] == 0
    assert counts["wa-hold"] == counts["wa-rim"] == counts["wa-sleeve"] == 1
    assert counts["wa-leaves"] == counts["wa-arrives"] == 2
    assert counts["wa-branch"] == 2
    assert counts["wa-pennant"] == 1
    assert counts["wa-now"] == 1


def test_a_block_tells_its_dates_its_reason_and_what_is_wrong() -> None:
    row = package(
        "B1", 60, 2, hold=3, uses=(UseRow(BOAT),), title="Barrier coat", by="Scoter Coating",
        cause="waits for A1", hold_reason="cures", drives=True, late=("Booked for Mon 30 Nov.",),
    )  # fmt: skip
    shown = draw(some_rows(packages=(row,), legs=()), Choice())
    titles = [each.text or "" for each in parsed(shown).iter("title")]
    (said,) = [text for text in titles if text.startswith("B1")]
    assert said.split("\n") == [
        "B1 Barrier coat: Alder shed, Scoter Coating.",
        "Starts Fri 4 Dec 08:00, finishes Sun 6 Dec 08:00.",
        "Holds until Wed 9 Dec 08:00 (cures).",
        "It waits for A1.",
        "It is on the driving chain: a day more here is a day more to the launch.",
        "! Booked for Mon 30 Nov.",
    ]


def test_a_move_tells_its_two_places_and_times() -> None:
    way = replace(leg(ARCH, SHED, 2, 60), late="Due for Tue 24 Nov 16:00, and not ready.")
    shown = draw(some_rows(packages=(), legs=(way,)), Choice())
    titles = {each.text for each in parsed(shown).iter("title")}
    assert (
        "Arch (ST-02): Alder shed to Gannetry metal shop. It leaves Fri 4 Dec 08:00 and arrives "
        "Fri 4 Dec 09:00.\n! Due for Tue 24 Nov 16:00, and not ready."
    ) in titles


def test_the_plate_of_the_boat_stands_below_the_name_of_its_lane() -> None:
    shown = draw(some_rows(), Choice())
    lane = shown.picture.lanes[0]
    assert lane.boat is not None
    assert lane.boat.text == "ST-01 Sallow Tern"
    last_line = lane.y + 19 + 16 * len(lane.names) - 1  # baseline of whose place it is
    assert lane.boat.box.y > last_line
    (line,) = [line for line in shown.picture.lines if line.is_boat]
    assert lane.boat.box.middle == line.y


def test_the_print_sheet_shows_the_same_weeks_as_the_closer_look() -> None:
    whole = ElementTree.fromstring(draw(some_rows(), Choice()).sheet)
    near = ElementTree.fromstring(draw(some_rows(), Choice(), days_in_sight=21).sheet)
    assert whole.find("svg") is not None
    first, _, width, _ = (float(n) for n in near.find("svg").get("viewBox", "").split())  # type: ignore[union-attr]
    picture = draw(some_rows(), Choice(), days_in_sight=21).picture
    assert first <= picture.scale.x(some_rows().now) <= first + width
    assert round(width) == round(21 * picture.scale.per_day)


def test_the_key_explains_every_shape_once() -> None:
    entries = explain()
    assert len({entry.words for entry in entries}) == len(entries)
    for entry in entries:
        root = ElementTree.fromstring(entry.drawn)
        assert len(list(root.iter())) > 2, entry.words


@given(WORDS)
def test_a_shortened_text_fits_and_begins_like_the_whole(text: str) -> None:
    short = shorten(text, 60, 11)
    assert text_width(short, 11) <= 60
    assert text.split() == short.split() or short.rstrip("…") in " ".join(text.split())


def test_a_long_name_is_wrapped_and_only_its_last_line_is_cut() -> None:
    lines = wrap("Wrackline mould shop on the far side of the harbour", 128, 13.5, 2)
    assert lines[0] == "Wrackline mould"
    assert lines[1].endswith("…")
    assert all(text_width(line, 13.5) <= 128 for line in lines)


def test_widths_are_those_of_the_type() -> None:
    # Liberation Sans: "M" 833, "i" 222, space 278 of 1000
    assert round(text_width("Mi M", 10), 2) == 21.66
