"""The pages of a refit of 400 packages: queries, weight and time on one core of the server.

The demo eight times over (`tests.enlarged`), on SQLite in a scratch folder, served by
``manage.py serve`` that is kept to one core; this process asks from the other. Every page is asked
for ``--times`` times in turn, on one connection, signed in; the median is told, with the size of
the page as sent (compressed) and as unpacked, and the queries counted in this process. Limits: 15
queries, a median of 150 ms, 300 ms for the whereabouts picture; the vendor's page weighs less than
100 kB. Times are from the request sent to the last byte read, so they hold what the loopback adds.
"""

from __future__ import annotations

import argparse
import gzip
import http.client
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path
from time import perf_counter, sleep
from typing import Any

QUERIES, PAGE_MS, PICTURE_MS, VENDOR_KB = 15, 150.0, 300.0, 100.0
ROOT = Path(__file__).resolve().parents[2]


def _fill(copies: int) -> dict[str, Any]:
    """The refit, its plan and people in the scratch folder; addresses to ask for."""
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)
    from django.conf import settings
    from django.test import Client
    from django.test.utils import CaptureQueriesContext
    from django.utils import timezone

    from refit.accounts.models import LinkKind
    from refit.accounts.services import issue_link
    from refit.demo.scenario import demo_document
    from refit.interchange.store import import_document
    from refit.planning.services import replan
    from refit.work.models import THE_SOFTWARE
    from tests.builders import a_member
    from tests.enlarged import enlarged

    settings.ALLOWED_HOSTS = ["*"]
    now = timezone.now()
    refit = import_document(enlarged(demo_document(now), copies), actor=THE_SOFTWARE, now=now)
    began = perf_counter()
    assert replan(refit=refit, now=now) is not None, "the large refit has a plan"
    planned = perf_counter() - began
    manager = Client()
    manager.force_login(a_member(refit))
    visits = {}
    vendor = refit.vendors.get(name="Scoter Coating Works")
    for kind, of in ((LinkKind.OWNER, None), (LinkKind.VENDOR, vendor)):
        _, token = issue_link(refit=refit, kind=kind, vendor=of, now=now)
        visitor = Client()
        visits[kind.value] = (visitor.get(f"/p/in/{token}")["Location"], visitor)

    from django.db import connection

    from tests.test_queries import FILES, _addresses

    asked: dict[str, tuple[str, Client]] = {
        name: (address, manager) for name, address in _addresses(refit).items() if name not in FILES
    } | {f"{name}'s page": visit for name, visit in visits.items()}
    pages = {}
    for name, (address, client) in asked.items():
        with CaptureQueriesContext(connection) as queries:
            answer = client.get(address)
        if answer.status_code != 200:
            continue  # an act
        cookies = "; ".join(f"{key}={value.value}" for key, value in client.cookies.items())
        pages[name] = {"address": address, "queries": len(queries), "cookies": cookies}
    return {"packages": refit.packages.count(), "plan seconds": round(planned, 2), "pages": pages}


def _serve(folder: str, port: int) -> subprocess.Popen[str]:
    server = subprocess.Popen(
        [sys.executable, "manage.py", "serve", f"--port={port}", f"--data={folder}"],
        cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip
    os.sched_setaffinity(server.pid, {0})
    assert server.stdout is not None
    for line in server.stdout:
        if "Ctrl-C" in line:
            sleep(3)  # the first sweep of the worker
            return server
    raise SystemExit("serve did not come up")


def _ask(connection: http.client.HTTPConnection, page: dict[str, Any]) -> tuple[float, int, int]:
    """Milliseconds, bytes sent, bytes unpacked."""
    began = perf_counter()
    connection.request(
        "GET", page["address"], headers={"Cookie": page["cookies"], "Accept-Encoding": "gzip"}
    )
    answer = connection.getresponse()
    body = answer.read()
    took = (perf_counter() - began) * 1000
    if answer.status != 200:
        raise SystemExit(f"{page['address']} answered {answer.status}")
    packed = answer.getheader("Content-Encoding") == "gzip"
    return took, len(body), len(gzip.decompress(body)) if packed else len(body)


def run(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(prog="tests.bench pages")
    parser.add_argument("--copies", type=int, default=8, help="of the demo's 50 packages")
    parser.add_argument("--times", type=int, default=15)
    parser.add_argument("--port", type=int, default=8931)
    told = parser.parse_args(arguments)
    folder = tempfile.mkdtemp(prefix="refit-bench-")
    os.environ |= {"REFIT_DATA": folder, "DJANGO_SETTINGS_MODULE": "refit.settings"}
    os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})
    try:
        filled = _fill(told.copies)
        print(json.dumps({key: value for key, value in filled.items() if key != "pages"}))
        server = _serve(folder, told.port)
        try:
            failed = _time(filled["pages"], told.port, told.times)
        finally:
            server.terminate()
            server.wait(30)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    print("\n".join(failed) or "All within their limits.")
    return 1 if failed else 0


def _time(pages: dict[str, dict[str, Any]], port: int, times: int) -> list[str]:
    connection = http.client.HTTPConnection("127.0.0.1", port)
    taken: dict[str, list[tuple[float, int, int]]] = {name: [] for name in pages}
    for turn in range(times + 1):
        for name, page in pages.items():
            if turn:
                taken[name].append(_ask(connection, page))
            else:
                _ask(connection, page)  # templates are read once
    failed = []
    for name, page in pages.items():
        middle = statistics.median(took for took, _, _ in taken[name])
        _, sent, unpacked = taken[name][-1]
        line = {
            "page": name, "queries": page["queries"], "median ms": round(middle, 1),
            "sent kB": round(sent / 1000, 1), "unpacked kB": round(unpacked / 1000, 1),
        }  # fmt: skip
        print(json.dumps(line))
        limit = PICTURE_MS if name.startswith("whereabouts") else PAGE_MS
        if middle > limit:
            failed.append(f"{name}: {middle:.0f} ms, more than {limit:.0f}")
        if page["queries"] > QUERIES:
            failed.append(f"{name}: {page['queries']} queries, more than {QUERIES}")
        if name == "vendor's page" and unpacked / 1000 > VENDOR_KB:
            failed.append(f"{name}: {unpacked / 1000:.0f} kB, more than {VENDOR_KB:.0f}")
    return failed
