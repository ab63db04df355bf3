"""Browser, servers and visitors. They live as long as this folder's tests and no longer: the
browser's event loop would keep Django from its database in the tests that follow."""

from __future__ import annotations

import os
from collections.abc import Callable, Generator, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, StorageState, expect, sync_playwright

from .serving import Server, Store, migrate, new_store, serving
from .watching import HOW, Visitor

HERE = Path(__file__).parent
CHROMIUM = os.environ.get("REFIT_CHROMIUM", "/usr/bin/chromium")
Visit = Callable[..., Visitor]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.browser)
            if not Path(CHROMIUM).exists():
                item.add_marker(pytest.mark.skip(reason="Chromium is not installed"))


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item,
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """After a failure, leave a picture of every visitor's page and say where."""
    report = yield
    if report.when == "call" and report.failed:
        for number, visitor in enumerate(getattr(item, "funcargs", {}).get("visitors", [])):
            picture = item.funcargs["tmp_path"] / f"visitor-{number}.png"  # type: ignore[attr-defined]
            visitor.page.screenshot(path=picture, full_page=True)
            report.sections.append(("browser", f"{visitor.page.url}\n{picture}"))
    return report


@pytest.fixture(scope="package")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=CHROMIUM,
            args=[
                "--no-sandbox",
                "--disable-gpu",
                "--disable-quic",
                "--disable-background-networking",
            ],
        )
        yield started
        started.close()


@pytest.fixture(scope="package")
def migrated(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """An installation nobody has opened yet, to be copied."""
    with new_store(tmp_path_factory.mktemp("migrated") / "data") as store:
        migrate(store)
        yield store


@dataclass(frozen=True)
class Demo:
    """The served demo. Tests look at the refit itself; those that change one take a copy."""

    server: Server
    email: str
    password: str
    owner_link: str
    vendor_link: str

    @property
    def address(self) -> str:
        return self.server.address


@pytest.fixture(scope="package")
def demo(migrated: Store, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Demo]:
    folder = tmp_path_factory.mktemp("demo") / "data"
    with new_store(folder, like=migrated) as store, serving(store, "--demo") as server:
        yield Demo(
            server,
            email=server.found(r"e-mail +(\S+)"),
            password=server.found(r"password +(\S+)"),
            owner_link=server.found(r"The owner's private page\s+(\S+)"),
            vendor_link=server.found(r"The private page of .+\s+(\S+)"),
        )


@pytest.fixture(params=HOW)
def how(request: pytest.FixtureRequest) -> str:
    """At which size somebody looks, and whether their browser runs scripts."""
    return str(request.param)


@pytest.fixture
def visitors(tmp_path: Path) -> Iterator[list[Visitor]]:
    """All who came in this test; none may have met a fault."""
    came: list[Visitor] = []
    yield came
    faults = [fault for visitor in came for fault in visitor.faults]
    for visitor in came:
        visitor.context.close()
    assert not faults, "\n".join(faults)


@pytest.fixture
def visit(browser: Browser, visitors: list[Visitor]) -> Visit:
    """Somebody new at a server: ``visit(address, how)``."""

    def come(address: str, how: str = "wide", session: StorageState | None = None) -> Visitor:
        visitors.append(Visitor(browser, address, how, session))
        return visitors[-1]

    return come


@pytest.fixture(scope="package")
def session(browser: Browser, demo: Demo) -> StorageState:
    """What the browser keeps of the demo's manager having signed in."""
    visitor = Visitor(browser, demo.address)
    sign_in(visitor, demo)
    kept = visitor.context.storage_state()
    visitor.context.close()
    assert not visitor.faults, visitor.faults
    return kept


def sign_in(visitor: Visitor, demo: Demo) -> None:
    visitor.open("/")
    visitor.page.get_by_label("E-mail address").fill(demo.email)
    visitor.page.get_by_label("Password").fill(demo.password)
    visitor.page.get_by_role("button", name="Sign in").click()
    expect(visitor.page.get_by_role("heading", name="Sign in")).to_have_count(0)
    visitor.look_over()


@pytest.fixture
def manager(demo: Demo, visit: Visit, how: str, session: StorageState) -> Visitor:
    """The demo's manager, signed in."""
    return visit(demo.address, how, session)


@pytest.fixture
def own_refit(demo: Demo, manager: Visitor) -> str:
    """The path of a copy of the demo for this test alone: its document read in as a new refit."""
    document = manager.context.request.get("/r/sallow-tern/export.json").body()
    manager.open("/new/document/")
    manager.page.get_by_label("The file").set_input_files(
        {"name": "refit.json", "mimeType": "application/json", "buffer": document}
    )
    manager.press("Make the refit", sees="Pilothouse refit is here: ")
    manager.settle()
    return manager.page.url.removeprefix(demo.address)
