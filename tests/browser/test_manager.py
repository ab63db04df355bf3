"""A day of the refit manager: calls, loads, progress, where everything is, what is to be done."""

from __future__ import annotations

import re

from .conftest import Demo, Visit, sign_in
from .photos import a_photo
from .watching import Visitor


def test_somebody_without_an_account_does_not_get_in_and_the_manager_does(
    demo: Demo, visit: Visit, how: str
) -> None:
    visitor = visit(demo.address, how)
    visitor.open("/r/sallow-tern/packages/")
    visitor.sees("For the refit manager and the crew.")
    visitor.page.get_by_label("E-mail address").fill(demo.email)
    visitor.page.get_by_label("Password").fill("not-the-password")
    visitor.press("Sign in", sees="Sign in")
    visitor.sees("password")
    assert "Frame: blast and spray coat" not in visitor.read()
    sign_in(visitor, demo)
    visitor.open("/r/sallow-tern/packages/")
    visitor.sees("Frame: blast and spray coat")


def test_the_manager_calls_sends_counts_and_reports_and_hears_what_it_does_to_the_launch(
    manager: Visitor, own_refit: str
) -> None:
    _call(manager, own_refit)
    _move_the_brackets(manager, own_refit)
    _report_progress(manager, own_refit)
    manager.open(f"{own_refit}journal/")
    manager.sees("Runa Ostlund received Platform brackets", "one bracket scratched at the foot")


def _call(manager: Visitor, refit: str) -> None:
    manager.open(refit)
    manager.sees("Top frame was promised for")
    manager.press("Called Scoter Coating Works", sees="Noted: Scoter Coating Works was called.")
    assert "Top frame was promised for" not in manager.read()


def _move_the_brackets(manager: Visitor, refit: str) -> None:
    """Sent from the page of the day; received with a part missing, and a photo."""
    manager.open(refit)
    manager.press("Sent Platform brackets", sees="is on its way to Alder shed")
    manager.sees("on the road")
    manager.follow("Platform brackets", sees="It arrives")
    manager.page.get_by_label("Parts counted").first.fill("1")
    manager.page.get_by_label("Picture").first.set_input_files(
        {"name": "rust.jpg", "mimeType": "image/jpeg", "buffer": b"not a picture at all"}
    )
    manager.press("Received now", sees="It arrives")
    assert manager.page.locator(".errorlist:visible").count() == 1
    manager.page.get_by_label("Condition").first.fill("one bracket scratched at the foot")
    manager.page.get_by_label("Picture").first.set_input_files(a_photo())
    manager.press("Received now", sees="is at Alder shed")
    manager.sees("1 counted", "one bracket scratched at the foot", "2 parts left, 1 arrived.")
    photo = manager.page.locator("main img").first
    photo.scroll_into_view_if_needed()
    manager.page.wait_for_load_state("networkidle")
    assert photo.evaluate("image => image.naturalWidth") > 0
    manager.open(f"{refit}pieces/")
    manager.follow("Platform brackets", sees="At Alder shed")
    manager.sees("2 parts left, 1 arrived.")


def _report_progress(manager: Visitor, refit: str) -> None:
    launch = manager.launch(refit)
    manager.open(f"{refit}packages/?text=U2")
    manager.follow("U2", sees="left as last reported")
    manager.fill(remaining="soon")
    manager.press("Note it", sees="Working time left")
    assert manager.page.locator(".errorlist:visible").count() == 1
    manager.fill(remaining="100 d")
    manager.press("Note it", sees="100 days left as last reported")
    said = manager.read(".said")
    assert re.search(r"Launch moves from .+ later\.|A new plan is being computed\.", said)
    assert manager.launch(refit) > launch
    manager.open(f"{refit}packages/?text=U2")
    manager.follow("U2", sees="left as last reported")
    manager.press("Take back", sees="Taken back")
    assert manager.launch(refit) == launch


def test_the_picture_of_whereabouts_gives_the_reason_of_each_block(manager: Visitor) -> None:
    manager.open("/r/sallow-tern/")
    manager.page.get_by_role("navigation").get_by_role("link", name="Whereabouts").click()
    manager.sees("Where everything is, and when it moves")
    manager.look_over()
    block = manager.page.locator(".wa-picture a.wa-package", has_text="F3 Frame: fit hinges").first
    reason = block.locator("title").first.text_content() or ""
    assert "F2 Frame: blast and spray coat" in reason
    if manager.has_scripts:
        block.focus()
        words = manager.page.locator(".wa-words").text_content() or ""
        assert words == reason.replace("\n", " ")
    manager.page.goto(str(block.get_attribute("href")))
    manager.sees("F3 Frame: fit hinges and hardware")


def test_the_packages_of_one_shop_are_found(manager: Visitor) -> None:
    manager.open("/r/sallow-tern/packages/")
    assert manager.page.locator("main .log .name").count() >= 50
    manager.fill(who="Gannetry Metalwork")
    manager.press("Show", sees="all packages")
    names = manager.page.locator("main .log .name").all_inner_texts()
    assert sorted(name.split()[0] for name in names) == ["F1", "F3", "P2", "R1", "R2"]
    manager.fill(text="no such thing")
    manager.press("Show", sees="No package is like that.")
    manager.follow("Show all packages", sees="Frame: blast and spray coat")
