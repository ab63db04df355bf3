"""A page in a real browser that remembers whatever went wrong in it."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path

from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    Request,
    Response,
    StorageState,
    expect,
)

AXE = Path(__file__).parent / "node_modules" / "axe-core" / "axe.min.js"
"""The checker of WCAG 2.2, from npm: ``npm install --prefix tests/browser``."""
_RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
_ASK_AXE = """rules => axe.run(document, {runOnly: rules}).then(answer => answer.violations.map(
    fault => `${fault.id}, ${fault.nodes.length} times: ${fault.nodes[0].html.slice(0, 120)}`))"""

SIZES = {"wide": (1280, 900), "phone": (390, 844)}
HOW = ["wide", "phone", "phone, no scripts"]
"""How a person looks: at which size, and with or without JavaScript."""

_FAULTS_OF_A_PAGE = """() => {
    // What is folded must be sound as well.
    const folded = [...document.querySelectorAll('details:not([open])')];
    folded.forEach(each => each.open = true);
    const faults = [], root = document.documentElement;
    if (root.scrollWidth > root.clientWidth) {
        const wide = [...document.querySelectorAll('main *')]
            .filter(each => each.getBoundingClientRect().right > root.clientWidth + 1)
            .map(each => each.outerHTML.slice(0, 90));
        faults.push(`it is ${root.scrollWidth} px wide in ${root.clientWidth} px: ${wide[0]}`);
    }
    const headings = document.querySelectorAll('h1').length;
    if (headings !== 1) faults.push(`it has ${headings} h1`);
    if (!document.title.trim()) faults.push('it has no title');
    for (const field of document.querySelectorAll('input, select, textarea'))
        if (field.type !== 'hidden' && !field.labels.length && !field.ariaLabel)
            faults.push(`a field has no label: ${field.outerHTML.slice(0, 90)}`);
    for (const image of document.images)
        if (image.complete && image.currentSrc && !image.naturalWidth)
            faults.push(`a picture is broken: ${image.src}`);
    const ids = [...document.querySelectorAll('[id]')].map(each => each.id);
    const twice = ids.filter((id, at) => ids.indexOf(id) !== at);
    if (twice.length) faults.push(`an id stands there twice: ${twice[0]}`);
    folded.forEach(each => each.open = false);
    return faults;
}"""


@cache
def _axe() -> str:
    return AXE.read_text()


class Visitor:
    """Somebody at a browser of their own: one context with one page.

    ``faults`` collects what no page may have: messages in the console (violations of the content
    security policy among them), uncaught errors, answers from 400 up, requests that failed.
    """

    def __init__(
        self,
        browser: Browser,
        server: str,
        how: str = "wide",
        session: StorageState | None = None,
    ) -> None:
        size, _, scripts = how.partition(", ")
        width, height = SIZES[size]
        self.context: BrowserContext = browser.new_context(
            base_url=server,
            viewport={"width": width, "height": height},
            java_script_enabled=not scripts,
            locale="en-GB",
            storage_state=session,
        )
        self.context.set_default_timeout(10_000)
        self.has_scripts = not scripts
        self.faults: list[str] = []
        self.page: Page = self.context.new_page()
        self.page.on("console", self._console)
        self.page.on("pageerror", lambda error: self.faults.append(f"uncaught: {error}"))
        self.page.on("response", self._response)
        self.page.on("requestfailed", self._failed)

    def _console(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            self.faults.append(f"console of {self.page.url}: {message.text}")

    def _response(self, response: Response) -> None:
        if response.status >= 400:
            self.faults.append(f"{response.status} from {response.url}")

    def _failed(self, request: Request) -> None:
        # A page that is left before its last small request is answered: no fault.
        if request.failure != "net::ERR_ABORTED":
            self.faults.append(f"{request.url} failed: {request.failure}")

    def open(self, path: str) -> None:
        """Go there; the page must be sound. ``path``: below the server, or a whole address."""
        self.page.goto(path)
        self.look_over()

    def look_over(self) -> None:
        """Check what every page must have: fits the width, one h1, a title, labels, pictures."""
        found = self.page.evaluate(_FAULTS_OF_A_PAGE)
        self.faults += [f"{self.page.url}: {fault}" for fault in found]

    def check_access(self) -> None:
        """Ask axe whether everybody can use the page as it is."""
        self.page.evaluate(_axe())
        found = self.page.evaluate(_ASK_AXE, _RULES)
        self.faults += [f"{self.page.url}: axe says {fault}" for fault in found]

    def resize(self, size: str) -> None:
        width, height = SIZES[size]
        self.page.set_viewport_size({"width": width, "height": height})

    def press(self, name: str, *, sees: str) -> None:
        """Press the first button of that name; the page that answers must say ``sees``."""
        self.page.get_by_role("button", name=name).first.click()
        self.sees(sees)
        self.look_over()

    def follow(self, name: str, *, sees: str) -> None:
        """Click the first link of that name; the page it leads to must say ``sees``."""
        self.page.get_by_role("link", name=name).first.click()
        self.sees(sees)
        self.look_over()

    def fill(self, **values: str) -> None:
        """Fill fields by the names of their form."""
        for name, value in values.items():
            field = self.page.locator(f"main [name={name}]:visible").first
            if field.evaluate("field => field.tagName") == "SELECT":
                field.select_option(label=value)
            else:
                field.fill(value)

    def sees(self, *words: str) -> None:
        """Wait until each of these stands in the page's content."""
        for each in words:
            expect(self.page.locator("main").first).to_contain_text(each, timeout=10_000)

    def unfold(self, summary: str) -> None:
        """Open the first folded part whose summary says so."""
        self.page.locator("details:not([open]) > summary", has_text=summary).first.click()

    def read(self, part: str = "main") -> str:
        """The words on the page, as a person sees them."""
        return self.page.locator(part).first.inner_text()

    def launch(self, refit: str) -> date:
        """The day of the launch as the page of the day says it, once the plan is up to date."""
        self.open(refit)
        self.settle()
        said = self.read(".launch .date")
        match = re.search(r"(\d{1,2}) (\w{3})(?: (\d{4}))?", said)
        assert match, said
        day, month, year = match[1], match[2], match[3] or str(datetime.now(UTC).date().year)
        return datetime.strptime(f"{day} {month} {year}", "%d %b %Y").date()  # noqa: DTZ007

    def settle(self) -> None:
        """Look again until the page shows the plan of the refit as it is now."""
        for _ in range(60):
            if "being computed" not in self.read("body"):
                return
            self.page.wait_for_timeout(500)
            self.page.reload()
        raise AssertionError("No newer plan came within half a minute.")
