"""Every page of the demo, found by following links as people do, at both sizes.

Nothing is wrong in it, and there is none that nothing leads to.
"""

from __future__ import annotations

from collections import Counter
from typing import Literal
from urllib.parse import urlsplit

import pytest
from django.urls import NoReverseMatch, Resolver404, URLPattern, URLResolver, resolve, reverse
from playwright.sync_api import StorageState

from refit.desk.urls import urlpatterns

from .conftest import Demo, Visit
from .watching import AXE, SIZES, Visitor

REFIT = "/r/sallow-tern/"
OF_EACH_SORT = 2
"""How many pages of one sort are looked at: of packages, of pieces, ..."""
NOT_LINKED = {"import-preview", "invited", "plan-line", "trips-worker"}
"""What follows an upload; what a mailed invitation opens; what a page asks for while it waits;
the script of the trips that works without a network."""


def _names(patterns: list[URLPattern | URLResolver]) -> set[str]:
    """Names of the desk's own paths."""
    names: set[str] = set()
    for pattern in patterns:
        if isinstance(pattern, URLResolver):
            names |= _names(pattern.url_patterns)
        else:
            names.add(str(pattern.name))
    return names


def _paths(visitor: Visitor, selector: str, attribute: str) -> list[str]:
    """Paths of this site that the page names there, in its order."""
    named: list[str] = visitor.page.eval_on_selector_all(
        selector,
        "(all, name) => all.map(each => new URL(each.getAttribute(name), location).href)",
        attribute,
    )
    here = urlsplit(visitor.page.url).netloc
    paths = [urlsplit(each).path for each in named if urlsplit(each).netloc == here]
    # Other refits are copies that other tests change.
    return [path for path in paths if not path.startswith("/r/") or path.startswith(REFIT)]


def _name(path: str) -> str:
    try:
        return str(resolve(path).url_name)
    except Resolver404:
        raise AssertionError(f"something leads nowhere: {path}") from None


def _walk(visitor: Visitor, *starts: str) -> set[str]:
    """Open the first pages of each sort that links lead to; the names of all that is led to."""
    waiting = list(starts)
    seen = set(waiting)
    reached: Counter[str] = Counter()
    while waiting:
        path = waiting.pop(0)
        name = _name(path)
        if reached[name] >= OF_EACH_SORT:
            continue
        reached[name] += 1
        answer = visitor.context.request.get(path)
        assert answer.ok, f"{answer.status} from {path}"
        if "text/html" not in answer.headers["content-type"]:
            continue  # what a browser saves instead of showing
        visitor.open(path)
        visitor.resize("phone")
        visitor.look_over()
        if AXE.exists():
            visitor.check_access()
        visitor.resize("wide")
        if AXE.exists():
            visitor.check_access()
        waiting += [link for link in _paths(visitor, "a[href]", "href") if link not in seen]
        seen |= set(waiting)
        reached.update({_name(path): 0 for path in _paths(visitor, "form[action]", "action")})
    return set(reached)


def test_nothing_is_wrong_on_any_page_at_any_size_and_something_leads_to_all(
    demo: Demo, session: StorageState, visit: Visit
) -> None:
    visitor = visit(demo.address, "wide", session)
    # The home of somebody with one refit leads straight to it; a second one begins at /new/.
    reached = _walk(visitor, REFIT, "/new/")
    assert len(reached) > 40
    for name in sorted(_names(urlpatterns) - reached - NOT_LINKED):
        assert _answers_posts_only(visitor, name), f"nothing leads to {name}"


def _answers_posts_only(visitor: Visitor, name: str) -> bool:
    """So acts that only another state of things offers."""
    for parts in (["sallow-tern"], ["sallow-tern", 1], ["sallow-tern", 1, 1]):
        try:
            path = reverse(f"desk:{name}", args=parts)
        except NoReverseMatch:
            continue
        return visitor.context.request.get(path).status == 405
    return False


@pytest.mark.skipif(not AXE.exists(), reason="axe-core is not installed")
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_everybody_can_use_the_private_pages_and_the_picture_by_day_and_by_night(
    demo: Demo, session: StorageState, visit: Visit, scheme: Literal["light", "dark"]
) -> None:
    """WCAG 2.2 A and AA (W3C Recommendation, 2023) as far as axe can see it; the other pages of
    the desk are asked in the walk above."""
    manager = visit(demo.address, "wide", session)
    for visitor, path in (
        (manager, REFIT),
        (manager, f"{REFIT}whereabouts/"),
        (visit(demo.address, "phone"), demo.owner_link),
        (visit(demo.address, "phone"), demo.vendor_link),
    ):
        visitor.page.emulate_media(color_scheme=scheme)
        visitor.open(path)
        visitor.check_access()


@pytest.mark.parametrize("how", SIZES)
def test_nothing_is_wrong_on_the_private_pages(demo: Demo, visit: Visit, how: str) -> None:
    for link, says in ((demo.owner_link, "Where everything is"), (demo.vendor_link, "You hold")):
        visitor = visit(demo.address, how)
        visitor.open(link)
        visitor.sees(says)


@pytest.mark.parametrize("how", SIZES)
def test_a_link_that_opens_nothing_says_what_to_do(demo: Demo, visit: Visit, how: str) -> None:
    visitor = visit(demo.address, how)
    visitor.open("/p/in/never-given-out")
    visitor.sees("Ring the refit manager")
    assert [fault for fault in visitor.faults if "never-given-out" not in fault] == []
    visitor.faults.clear()
