"""The library of processes: every file is one, and says what the trade facts say."""

from __future__ import annotations

import copy
from decimal import Decimal

import pytest

from refit.work.processes import ProcessError, library, read_process, say_cautions
from refit.work.processes.library import FOLDER, cautions, remedy_after
from refit.work.processes.rates import own_rate, share_of_whole

NAMED = {
    "gelcoat-refinish", "frame-welding", "spray-coating", "canvas", "upholstery", "moulded-part",
    "platform", "trim-tabs", "rub-rail", "bottom-paint", "lettering", "wiring", "windows",
    "bedding", "engine-bay", "trailer", "sea-trial", "abrade-before-recoat",
}  # fmt: skip


def test_every_kind_of_work_is_there_and_every_file_is_read() -> None:
    assert set(library()) == NAMED == {file.stem for file in FOLDER.glob("*.json")}


@pytest.mark.parametrize(
    ("key", "steps", "days"),
    [
        # Working days low, likely, high for boats of 20 to 26 ft (common practice, no source).
        ("gelcoat-refinish", ("test-spot", "wet-sand", "compound-polish"), (3, 5, 10)),
        ("gelcoat-refinish", ("fill",), (2, 5, 15)),
        ("frame-welding", (), (2, 4, 10)),
        ("spray-coating", (), (2, 4, 8)),
        ("canvas", (), (6, 12, 30)),
        ("upholstery", (), (5, 12, 30)),
        ("bottom-paint", ("prepare", "prime"), (1, 3, 8)),
        ("bottom-paint", ("antifouling", "boot-stripe"), (2, 3, 5)),
        ("rub-rail", (), (1, 2, 4)),
        ("wiring", (), (2, 5, 15)),
        ("sea-trial", (), (0.5, 1, 2)),
    ],
)
def test_the_usual_boat_takes_the_usual_days(
    key: str, steps: tuple[str, ...], days: tuple[float, float, float]
) -> None:
    process = library()[key]
    typical = process.quantity.typical if process.quantity else None
    times = [s.time.of(typical) for s in process.steps if not steps or s.key in steps]
    for total, day in zip(zip(*times, strict=True), days, strict=True):
        assert sum(total) == pytest.approx(day * 480, abs=2)


def test_holds_and_limits_are_those_of_their_sources() -> None:
    coat = library()["spray-coating"].step("topcoat")
    prime = library()["bottom-paint"].step("prime")
    assert coat is not None
    assert coat.hold is not None
    # Maker's guide to 2-part polyurethane: limited service after 72 to 96 h.
    assert 72 * 60 <= coat.hold.minutes <= 96 * 60
    limits = {one.what: (one.least, one.most) for one in coat.limits}
    # Industry guides citing ISO 8502-4 and ISO 12944-7 (read second-hand).
    assert limits == {"spread": (Decimal(3), None), "humidity": (None, Decimal(85))}
    # Epoxy to the first antifouling: about 1 to 6 h, else abrade (common practice, no source).
    assert prime is not None
    assert prime.hold is not None
    assert prime.hold.most == 6 * 60
    assert prime.hold.standing.word == "common practice"


def test_a_missed_window_has_its_remedy() -> None:
    found = remedy_after(library()["bottom-paint"], "prime")
    assert found is not None
    assert found[1].key == "abrade-before-recoat"
    assert remedy_after(library()["canvas"], "make") is None


def test_every_step_that_can_hurt_says_so_and_defers() -> None:
    for process in library().values():
        for step in process.steps:
            assert all(key in cautions() for key in step.cautions)
    said = say_cautions(library()["spray-coating"].step("topcoat").cautions)  # type: ignore[union-attr]
    assert "supplied air" in said
    assert said.endswith("The product data sheet, local codes and licensed practice decide.")


def test_what_is_wrong_with_a_process_is_said_with_its_place() -> None:
    good = library()["spray-coating"].data
    bad = copy.deepcopy(good)
    bad["steps"][0]["time"]["each"] = [3, 2, 1]
    bad["steps"][1]["after"] = [{"step": "wax", "reason": "so", "standing": "from memory"}]
    bad["steps"][2]["hold"]["source"] = " "
    with pytest.raises(ProcessError) as caught:
        read_process(bad)
    text = "\n".join(caught.value.problems)
    assert "step “prepare”: low, likely and high of each must rise" in text
    assert "step “prime”: it comes after wax, which is no step before it" in text
    assert "step “topcoat”: it is said to be published, so name the source" in text
    with pytest.raises(ProcessError, match="small letters, figures and hyphens"):
        read_process(good | {"key": "Spray Coating"})


def test_own_rates_take_the_place_of_the_library_once_there_are_some() -> None:
    step = library()["gelcoat-refinish"].steps[2]
    assert own_rate(step, []) is None
    one = own_rate(step, [(1800.0, Decimal(18))])
    assert one is not None
    low, likely, high = one.minutes(Decimal(9))
    assert likely == 900  # 100 minutes a square metre
    # While they are few, the spread of the process is laid round them: 0.7 and 2 times.
    assert (low, high) == (630, 1800)
    three = own_rate(step, [(1800.0, Decimal(18)), (900.0, Decimal(18)), (3600.0, Decimal(18))])
    assert three is not None
    assert three.minutes(Decimal(18)) == (900, 1800, 3600)


def test_a_package_of_the_whole_process_is_shared_out_among_its_steps() -> None:
    # One bracket set: the steps' likely times are a, b, c; 2 × (a + b + c) minutes worked make
    # each step twice as long, and nothing is counted for one step alone.
    process = library()["spray-coating"]
    whole = sum(step.time.of(Decimal(1))[1] for step in process.steps)
    for step in process.steps:
        shared = share_of_whole(process, step, [(2.0 * whole, Decimal(1))])
        assert [quantity for _, quantity in shared] == [Decimal(1)]
        assert shared[0][0] == pytest.approx(2.0 * step.time.of(Decimal(1))[1])
