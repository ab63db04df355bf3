"""A shop on a telephone: what is late, a new date, ready, and not ready after all."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from .conftest import Demo, Visit
from .watching import Visitor


def test_a_vendor_promises_says_ready_and_takes_it_back_and_the_manager_sees_what_it_does(
    demo: Demo, manager: Visitor, own_refit: str, visit: Visit, how: str
) -> None:
    manager.open(own_refit)
    manager.sees("Scoter Coating Works", "Top frame was promised for")
    launch = manager.launch(own_refit)
    manager.open(f"{own_refit}links/")
    manager.press("Make one for Scoter Coating Works, Page", sees="This is the link")
    vendor = visit(demo.address, how)
    vendor.open(manager.page.get_by_label("The new link").input_value())
    vendor.sees("Top frame is late", "days late")

    # Later than all the rest of the refit: whatever day it is, this moves the launch.
    day = datetime.now(UTC).date() + timedelta(days=90)
    frame = vendor.page.locator("article", has_text="Top frame")
    vendor.unfold("New date")
    frame.get_by_label("Ready to collect on").fill("2020-02-03")
    frame.get_by_role("button", name="Send the new date").click()
    # The browser itself keeps the form back: no day before today can be sent.
    assert frame.get_by_label("Ready to collect on").evaluate("day => !day.checkValidity()")
    frame.get_by_label("Ready to collect on").fill(day.isoformat())
    frame.get_by_label("Why (if you like)").fill("the first coat has to come off")
    frame.get_by_role("button", name="Send the new date").click()
    vendor.sees("Thank you.", "the first coat has to come off", "Next due back: Top frame")
    vendor.look_over()

    assert manager.launch(own_refit) > max(launch, day)
    manager.sees("is promised by Scoter Coating Works for")
    assert "Top frame was promised for" not in manager.read()

    frame.get_by_role("button", name="It is ready").click()
    vendor.sees("is told that Top frame is ready to collect")
    vendor.look_over()
    assert manager.launch(own_refit) < day, "nothing waits for the promised day any more"
    manager.sees("Sent Top frame")

    frame.get_by_role("button", name="Not ready after all").click()
    vendor.sees("Taken back: Top frame is not ready yet.")
    vendor.look_over()
    manager.launch(own_refit)
    assert "Sent Top frame" not in manager.read()
    manager.open(f"{own_refit}journal/")
    manager.sees("Scoter Coating Works (vendor) promised Top frame")
