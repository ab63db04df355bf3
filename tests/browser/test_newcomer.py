"""From an empty installation to dates with reasons, and a private link that a vendor opens."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from .conftest import Visit
from .serving import Store, new_store, serving
from .watching import Visitor

JOBS = (
    ("F1", "Take the frame off", "our own crew", "Alder shed", "4 h", "works on it"),
    ("F2", "Coat the frame", "Scoter Coating Works", "Scoter booth", "3 d", "works on it"),
    ("X2", "Launch", "our own crew", "Alder shed", "2 h", "not needed"),
)


@pytest.mark.parametrize("how", ["wide", "phone, no scripts"])
def test_a_newcomer_comes_from_nothing_to_dates_with_reasons_and_a_vendor_who_sees_them(
    migrated: Store, tmp_path: Path, visit: Visit, how: str
) -> None:
    with new_store(tmp_path / "data", like=migrated) as store, serving(store) as server:
        newcomer = visit(server.address, how)
        _make_the_first_account(newcomer)
        refit = _start_a_refit(newcomer)
        _add_a_vendor_and_its_place(newcomer, refit)
        newcomer.open(f"{refit}pieces/new/")
        newcomer.fill(tag="ST-02", name="Top frame", place="Alder shed")
        newcomer.press("Add it", sees="Top frame")
        for job in JOBS:
            _add_a_package(newcomer, refit, *job)
        _let_wait(newcomer, refit, "X2 Launch", "F2 Coat the frame", "no top, no dry crew")
        _let_wait(newcomer, refit, "F2 Coat the frame", "F1 Take the frame off", "coated all round")

        newcomer.open(refit)
        newcomer.settle()
        newcomer.sees("Driven by", "Take the frame off", "Coat the frame", "Launch")
        newcomer.follow("Coat the frame", sees="Why")
        newcomer.sees("It waits for Top frame: F1 Take the frame off has it until")

        newcomer.open(f"{refit}links/")
        newcomer.press("Make one for Scoter Coating Works, Page", sees="This is the link")
        link = newcomer.page.get_by_label("The new link").input_value()
        vendor = visit(server.address, how)
        vendor.open(link)
        vendor.sees("Coming to you", "Top frame", "Your work on this boat", "Coat the frame")
        assert "Take the frame off" not in vendor.read()


def _make_the_first_account(newcomer: Visitor) -> None:
    newcomer.open("/")
    newcomer.sees("The first account")
    newcomer.fill(name="Edda Marrable", email="edda@tern.example", password="seagull1")
    newcomer.page.get_by_label("Password").fill("12345678")
    newcomer.press("Make the account", sees="too common")
    newcomer.fill(password="keel-and-garboard-4")
    newcomer.press("Make the account", sees="A new refit")


def _start_a_refit(newcomer: Visitor) -> str:
    """The address of its first page."""
    newcomer.fill(boat_name="Sallow Tern", home_name="Alder shed", currency="EUR")
    newcomer.fill(start=datetime.now(UTC).date().isoformat(), time_zone="Lisbon")
    newcomer.press("Start the refit", sees="“Lisbon” is not a time zone")
    newcomer.fill(time_zone="Europe/Lisbon")
    newcomer.press("Start the refit", sees="A plan needs three things")
    return newcomer.page.url


def _add_a_vendor_and_its_place(newcomer: Visitor, refit: str) -> None:
    newcomer.follow("Add a vendor", sees="A new vendor")
    newcomer.fill(name="Scoter Coating Works", contact="Dag Ellery", phone="01632 960153")
    newcomer.press("Add it", sees="Scoter Coating Works")
    newcomer.open(f"{refit}places/new/")
    newcomer.fill(name="Scoter booth", vendor="Scoter Coating Works", hours_4="8 to noon")
    newcomer.press("Add it", sees="A new place")
    newcomer.sees("8 to noon")
    newcomer.fill(hours_4="8:00–12:00")
    newcomer.press("Add it", sees="Scoter booth")


def _add_a_package(
    newcomer: Visitor, refit: str, code: str, title: str, who: str, where: str, time: str, use: str
) -> None:
    newcomer.open(f"{refit}packages/new/")
    newcomer.fill(code=code, title=title, vendor=who, place=where, likely_minutes=time)
    newcomer.page.get_by_label("Top frame (ST-02)").select_option(label=use)
    if title == "Launch":
        newcomer.page.get_by_label("This is the launch").check()
    newcomer.press("Add it", sees=f"{code} {title} is added.")


def _let_wait(newcomer: Visitor, refit: str, after: str, before: str, reason: str) -> None:
    newcomer.open(f"{refit}packages/")
    newcomer.follow(after, sees="What it waits for")
    newcomer.unfold("Let it wait for another package")
    newcomer.fill(before=before)
    newcomer.press("Add", sees="Physical reason")
    newcomer.fill(before=before, reason=reason)
    newcomer.press("Add", sees=reason)
