"""The owner: when it is afloat and why, where the boat is, what waits for their word."""

from __future__ import annotations

import re

from .conftest import Demo, Visit


def test_the_owner_sees_launch_whereabouts_and_what_waits_and_no_price_of_a_shop(
    demo: Demo, visit: Visit, how: str
) -> None:
    owner = visit(demo.address, how)
    owner.open(demo.owner_link)
    assert re.match(r"Launch \w{3} \d{1,2} ", owner.read("h1"))
    owner.sees("The date hangs on")
    spots = owner.read(".spots")
    assert re.search(r"Sallow Tern\s+at Alder shed", spots)
    assert re.search(r"At Scoter coating booth\s+Top frame", spots)
    owner.sees("Waiting for your word", "Pitted drain fitting on the transom", "110 CAD")
    owner.sees("Soft core beside the aft hatch", "640 CAD")
    # What Scoter, Brackwater and Wrackline are paid: nothing of it stands on the owner's page.
    assert not set(re.findall(r"[\d,]+ CAD", owner.read())) & {
        "1,180 CAD",
        "3,840 CAD",
        "2,050 CAD",
    }
