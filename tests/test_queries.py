"""Every page of the demo takes few queries, and as many when the refit is three times as large.

The pages come from the URL table. Pages of a refit made for the purpose, with more of everything
that may stand on them: `tests.desk.test_query_counts`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, reverse
from django.utils import timezone

from refit.accounts.models import LinkKind
from refit.accounts.services import issue_link
from refit.demo.scenario import demo_document
from refit.desk.urls import of_one_refit
from refit.interchange.document import RefitDocument
from refit.interchange.store import import_document
from refit.planning.services import replan
from refit.trips.services import replan_trips
from refit.work.models import THE_SOFTWARE, Refit
from tests.builders import a_member
from tests.enlarged import enlarged

pytestmark = pytest.mark.django_db
MOST = 15
FILES = {"export", "import-template", "budget-csv", "as-refit-pdf", "as-refit-zip"}


def _loaded(document: RefitDocument) -> tuple[Refit, Client]:
    now = timezone.now()
    refit = import_document(document, actor=THE_SOFTWARE, now=now)
    assert replan(refit=refit, now=now) is not None
    replan_trips(refit=refit, now=now)
    client = Client()
    client.force_login(a_member(refit))
    return refit, client


def _names(patterns: list[URLPattern | URLResolver], args: str = "") -> Iterator[tuple[str, str]]:
    """Name and path of each address of one refit."""
    for pattern in patterns:
        path = f"{args}{pattern.pattern}"
        if isinstance(pattern, URLResolver):
            yield from _names(pattern.url_patterns, path)
        else:
            yield str(pattern.name), path


def _addresses(refit: Refit) -> dict[str, str]:
    """One address of each page; what an address is about is found by the folder it stands in."""
    shop = refit.vendors.get(name="Scoter Coating Works")
    package = refit.packages.get(code="F2")
    link = refit.dependencies.get(before__code="F2", after__code="F3")
    rows: dict[str, Any] = {
        "packages": package.pk,
        "pieces": refit.pieces.get(tag="ST-02").pk,
        "handoffs": refit.handoffs.filter(piece__tag="ST-02").latest("pk").pk,
        "vendors": shop.pk,
        "vendors/papers": shop.papers.all()[0].pk,
        "places": refit.places.get(name="Alder shed").pk,
        "crew": refit.crew.get(name="Runa Ostlund").pk,
        "crew/zones": refit.zones.get(name="Pilothouse").pk,
        "findings": refit.findings.get(code="N1").pk,
        "quotes": refit.inquiries.get(code="Q1").pk,
        "orders": refit.work_orders.get(code="WO1").pk,
        "changes": refit.change_orders.get(code="CO1").pk,
        "goods": refit.goods.get(code="G1").pk,
        "money/payments": refit.payments.get(key="demo-1").pk,
        "trips": refit.trips.all()[0].pk,
        "rigs": refit.rigs.all()[0].pk,
    }
    quote = refit.inquiries.get(code="Q1").quotes.all()[0]
    roads = refit.distances.select_related("origin", "destination").order_by("pk")[0]
    addresses = {}
    for name, path in _names(of_one_refit):
        folder = path.partition("<")[0].rstrip("/")
        if name in FILES or "<" not in path:
            args: list[Any] = ["json" if name == "export" else "xlsx"] if "<" in path else []
        elif "<int:quote>" in path:
            args = [quote.inquiry_id, quote.pk]
        elif folder == "processes":
            own = name in ("process-edit", "process-remove")
            args = ["bow-rail" if own else "gelcoat-refinish"]
        elif folder == "quality/row":
            args = ["reading"] + ([refit.readings.latest("pk").pk] if "<int:pk>" in path else [])
        elif "<int:link>" in path:
            args = [link.after_id, link.pk]
        elif "<int:origin>" in path:
            args = [roads.origin_id, roads.destination_id]
        elif folder == "places/roads":
            args = [roads.pk]
        elif "<int:stop>" in path:
            continue
        elif folder in rows:
            args = [rows[folder]]
        else:
            continue  # pages of what the demo has none of: uploads, invitations, letters
        addresses[name] = reverse(f"desk:{name}", args=[refit.slug, *args])
    return addresses


def _counts(refit: Refit, client: Client) -> dict[str, int]:
    counts = {}
    for name, address in _addresses(refit).items():
        with CaptureQueriesContext(connection) as queries:
            answer = client.get(address)
        if answer.status_code == 405:
            continue  # an act
        assert answer.status_code == 200, (name, answer.status_code)
        counts[name] = len(queries)
    return counts


def test_the_pages_of_the_demo_take_few_queries_and_no_more_when_it_is_three_times_as_large() -> (
    None
):
    document = demo_document(timezone.now())
    small = _counts(*_loaded(document))
    assert len(small) > 40, "most pages of the desk"
    # A file holds the whole refit: more queries than a page, and as many for a larger one.
    pages = {name: count for name, count in small.items() if name not in FILES}
    assert {name: count for name, count in pages.items() if count > MOST} == {}
    large_refit, client = _loaded(enlarged(document))
    assert large_refit.packages.count() == 3 * len(document["packages"])
    large = _counts(large_refit, client)
    assert large.keys() == small.keys()
    # Which trip is looked at differs, and one that visits no shop asks for no shop's papers.
    assert {name: large[name] for name in large if large[name] > small[name]} == {}


def test_the_private_pages_take_as_many_queries_for_a_refit_three_times_as_large() -> None:
    document = demo_document(timezone.now())
    counts = []
    for told in (document, enlarged(document)):
        refit, _ = _loaded(told)
        of_one = []
        for kind, vendor in (
            (LinkKind.OWNER, None),
            (LinkKind.VENDOR, refit.vendors.get(name="Scoter Coating Works")),
        ):
            _, token = issue_link(refit=refit, kind=kind, vendor=vendor, now=timezone.now())
            visitor = Client()
            page = visitor.get(f"/p/in/{token}")["Location"]
            with CaptureQueriesContext(connection) as queries:
                assert visitor.get(page).status_code == 200
            of_one.append(len(queries))
        counts.append(of_one)
    assert max(counts[0]) <= MOST
    assert counts[0] == counts[1]
