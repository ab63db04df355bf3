"""500 calendar programs poll one embedded server for a minute: answers, waits, share of 304.

``uv run python -m tests.bench feeds [clients] [seconds]``. Starts ``manage.py serve`` on loopback
with an installation of its own that holds the demo and one private calendar a client, lets every
client fetch its calendar once, and then poll with the ETag it got, every five seconds on average.
Holds if no answer is an error, if every unchanged calendar is answered with 304, and if no query of
such an answer reads a table of the plan.
"""

from __future__ import annotations

import asyncio
import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections import Counter
from pathlib import Path

PORT = 8163
EVERY_SECONDS = 5.0
PREPARE = """
import django; django.setup()
from django.utils import timezone
from django.core.management import call_command
call_command("migrate", interactive=False, verbosity=0)
from refit.demo.load import load_demo, SLUG
from refit.accounts.models import LinkKind, PrivateLink, hash_token, new_token
from refit.work.models import Refit
now = timezone.now()
load_demo(now=now)
refit = Refit.objects.get(slug=SLUG)
vendors = list(refit.vendors.order_by("pk"))
kinds = [(LinkKind.MANAGER_FEED, None), (LinkKind.OWNER_FEED, None), (LinkKind.BOAT_FEED, None)]
kinds += [(LinkKind.VENDOR_FEED, vendor) for vendor in vendors]
for number in range({clients}):
    kind, vendor = kinds[number % len(kinds)]
    token = new_token()
    PrivateLink.objects.create(refit=refit, kind=kind, vendor=vendor, created_at=now,
        public_id=f"bench{{number}}", token_hash=hash_token(token))
    print(token)
from refit.feeds.services import refresh_feeds
refresh_feeds(now=timezone.now())
"""
QUERIES = """
import django; django.setup()
from django.conf import settings
settings.ALLOWED_HOSTS.append("testserver")
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
address = "/calendar/{token}.ics"
etag = Client().get(address)["ETag"]
with CaptureQueriesContext(connection) as queries:
    answer = Client().get(address, headers={{"if-none-match": etag}})
plan = sum("planning_" in query["sql"] for query in queries)
print(answer.status_code, len(queries), plan)
"""


def run(arguments: list[str]) -> int:
    clients = int(arguments[0]) if arguments else 500
    seconds = float(arguments[1]) if len(arguments) > 1 else 60.0
    with tempfile.TemporaryDirectory() as folder:
        environment = os.environ | {
            "REFIT_DATA": folder,
            "DJANGO_SETTINGS_MODULE": "refit.settings",
        }
        environment.pop("REFIT_DATABASE_URL", None)
        tokens = _python(PREPARE.format(clients=clients), environment).split()
        status, queries, of_plan = map(
            int, _python(QUERIES.format(token=tokens[0]), environment).split()
        )
        print(f"one unchanged calendar: {status}, {queries} queries, {of_plan} of them on the plan")
        log = (Path(folder) / "server.log").open("w")
        server = subprocess.Popen(
            [sys.executable, "manage.py", "serve", "--port", str(PORT)],
            env=environment, stdout=log, stderr=subprocess.STDOUT,
        )  # fmt: skip
        try:
            _wait_for_server()
            answers = asyncio.run(_poll(tokens, seconds))
        finally:
            server.terminate()
            server.wait(20)
    return _tell(answers, seconds) or int((status, of_plan) != (304, 0))


def _python(code: str, environment: dict[str, str]) -> str:
    return subprocess.run(
        [sys.executable, "-c", code], env=environment, check=True, capture_output=True, text=True
    ).stdout


def _wait_for_server() -> None:
    for _ in range(120):
        try:
            urllib.request.urlopen(f"http://127.0.0.1:{PORT}/account/sign-in", timeout=5).close()
        except OSError:
            time.sleep(0.5)
        else:
            return
    raise RuntimeError("The server did not come up.")


Answer = tuple[str, float, bool]
"""Status or the error's name, seconds, whether the client had an ETag."""


async def _poll(tokens: list[str], seconds: float) -> list[Answer]:
    answers: list[Answer] = []
    end = time.monotonic() + seconds
    chance = random.Random(1)

    async def client(token: str) -> None:
        etag = ""
        await asyncio.sleep(chance.uniform(0, EVERY_SECONDS))
        while time.monotonic() < end:
            began = time.perf_counter()
            had = bool(etag)
            try:
                status, etag = await asyncio.wait_for(_fetch(token, etag), 30)
            except (TimeoutError, OSError, ValueError) as problem:
                status = type(problem).__name__
            answers.append((status, time.perf_counter() - began, had))
            await asyncio.sleep(chance.uniform(0.5, 1.5) * EVERY_SECONDS)

    await asyncio.gather(*(client(token) for token in tokens))
    return answers


async def _fetch(token: str, etag: str) -> tuple[str, str]:
    """One request on a connection of its own, as calendar programs make it."""
    reader, writer = await asyncio.open_connection("127.0.0.1", PORT)
    lines = [f"GET /calendar/{token}.ics HTTP/1.1", f"Host: 127.0.0.1:{PORT}", "Connection: close"]
    if etag:
        lines.append(f"If-None-Match: {etag}")
    try:
        writer.write(("\r\n".join(lines) + "\r\n\r\n").encode())
        await writer.drain()
        head = (await reader.read()).split(b"\r\n\r\n", 1)[0].decode("latin-1").split("\r\n")
    finally:
        writer.close()
    fields = dict(line.lower().split(": ", 1) for line in head[1:] if ": " in line)
    return head[0].split()[1], fields.get("etag", etag)


def _tell(answers: list[Answer], seconds: float) -> int:
    counts = Counter(status for status, _, _ in answers)
    waits = sorted(wait for _, wait, _ in answers)
    asked = [status for status, _, had in answers if had]
    unchanged = asked.count("304")
    print(f"{len(answers)} requests in {seconds:.0f} s: {dict(sorted(counts.items()))}")
    print(f"with an ETag {len(asked)}, answered with 304: {unchanged}")
    print(
        f"wait: median {statistics.median(waits) * 1000:.0f} ms, "
        f"95 of 100 within {waits[int(len(waits) * 0.95)] * 1000:.0f} ms, "
        f"longest {waits[-1] * 1000:.0f} ms"
    )
    errors = sum(number for status, number in counts.items() if status not in ("200", "304"))
    print(f"errors: {errors}")
    return int(bool(errors or unchanged != len(asked)))
