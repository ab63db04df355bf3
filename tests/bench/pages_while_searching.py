"""How quick pages are while refit looks for an earlier launch: ``[--seconds 30] [--pages N]``.

A real ``serve --demo`` in a folder of its own; the manager opens pages one after the other, first
with nothing else going on, then while a search runs in its child process. One JSON line: median
and slowest of both in milliseconds, and the ratio of the medians. What else the machine does at the
time counts too.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from pathlib import Path
from statistics import median
from time import perf_counter

from tests.browser.serving import new_store, serving

from ._signed_in import SignedIn

PAGES = ("", "packages/", "pieces/", "whereabouts/", "earlier-launch/")
ROOM = "/r/sallow-tern/"


def run(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="pages_while_searching")
    parser.add_argument("--seconds", default="30", choices=["10", "30", "60", "180"])
    parser.add_argument("--pages", type=int, default=60)
    asked = parser.parse_args(arguments)
    with (
        tempfile.TemporaryDirectory() as folder,
        new_store(Path(folder) / "data") as store,
        serving(store, "--demo") as server,
    ):
        browser = SignedIn(
            server.address,
            server.found(r"e-mail\s+(\S+)"),
            server.found(r"password\s+(\S+)"),
        )
        for page in PAGES:  # the first look at each loads templates
            browser.get(ROOM + page)
        idle = _times(browser, asked.pages)
        at = f"{ROOM}earlier-launch/"
        running: list[float] = []
        searches = 0
        while len(running) < asked.pages:  # a search that has its proof ends early: ask again
            browser.post(f"{at}begin/", {"seconds": asked.seconds}, at=at)
            searches += 1
            while "Stop" in browser.get(at) and len(running) < asked.pages:
                running += _times(browser, len(PAGES))
        print(
            json.dumps(
                {
                    "pages_idle": len(idle),
                    "searches": searches,
                    "pages_running": len(running),
                    "median_idle_ms": round(median(idle) * 1000, 1),
                    "median_running_ms": round(median(running) * 1000, 1),
                    "slowest_idle_ms": round(max(idle) * 1000, 1),
                    "slowest_running_ms": round(max(running) * 1000, 1),
                    "ratio": round(median(running) / median(idle), 2),
                }
            )
        )
    return 0


def _times(browser: SignedIn, number: int) -> list[float]:
    times = []
    for index in range(number):
        began = perf_counter()
        browser.get(ROOM + PAGES[index % len(PAGES)])
        times.append(perf_counter() - began)
    return times
