"""The driver on the road: a trip from load to last stop on a telephone, part of it off the net."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from .watching import Visitor


@pytest.fixture
def how() -> str:
    return "phone"


def test_a_trip_is_driven_from_load_to_last_stop_with_two_stops_off_the_network(
    manager: Visitor, own_refit: str
) -> None:
    driver, page = manager, manager.page
    driver.open(f"{own_refit}rigs/new/")
    driver.fill(name="Grey pickup", bed_length_m="3", bed_width_m="2.4")
    driver.press("Save", sees="Grey pickup is saved")
    driver.settle()
    driver.open(f"{own_refit}trips/")
    driver.press("Plan the trips", sees="The trips are planned anew")
    # The trip with the most stops; its sheet is kept, so that no replan takes it away meanwhile.
    cards = page.locator("article.trip")
    sizes = [cards.nth(n).locator("ol.stops > li").count() for n in range(cards.count())]
    card = cards.nth(sizes.index(max(sizes)))
    assert max(sizes) >= 4
    name = card.get_by_role("link").first.get_attribute("href")
    assert name is not None
    card.get_by_role("button", name=re.compile("Keep this trip")).click()
    driver.sees("stays as it is")
    driver.open(name)
    stops = page.locator("ol.sheet-stops > li")
    count = stops.count()
    pieces = [text.strip() for text in stops.locator("li strong").all_inner_texts()]
    assert pieces
    expect(page.locator("html[data-kept=yes]")).to_be_attached(timeout=15_000)
    page.wait_for_function("navigator.serviceWorker.controller !== null")

    stops.nth(0).get_by_role("button", name="Done").click()
    expect(stops.nth(0)).to_contain_text("done", timeout=15_000)
    driver.look_over()

    known = len(driver.faults)
    driver.context.set_offline(True)
    for number in (1, 2):
        form = stops.nth(number)
        form.locator("summary").click()
        form.get_by_label("Note").fill(f"left by the gate {number}")
        form.get_by_role("button", name="Done").click()
        expect(form).to_contain_text("Noted on this phone")
    expect(page.locator("#waiting")).to_contain_text("2 ticks wait on this phone")
    page.reload()  # the sheet opens without a network, and still knows what waits
    expect(page.locator("#waiting")).to_contain_text("2 ticks wait on this phone")
    expect(stops.nth(1)).to_contain_text("Noted on this phone")
    del driver.faults[known:]  # what a browser says about having no network

    driver.context.set_offline(False)
    for number in (1, 2):
        expect(stops.nth(number)).to_contain_text(f"left by the gate {number}", timeout=30_000)
        expect(stops.nth(number)).to_contain_text("done")
    expect(page.locator("#waiting")).to_be_hidden()

    for number in range(3, count):
        stops.nth(number).get_by_role("button", name="Done").click()
        expect(stops.nth(number)).to_contain_text("done", timeout=15_000)
    driver.look_over()
    driver.open(f"{own_refit}pieces/")
    driver.open(f"{own_refit}journal/")
    assert driver.read().count("ticked stop 1 at ") == 1
    driver.open(f"{own_refit}trips/")
    assert name not in [
        link.get_attribute("href") for link in page.locator("article.trip h3 a").all()
    ]
