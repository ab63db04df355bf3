"""Export and import lose nothing, and an import is whole or not at all."""

from __future__ import annotations

import io
import itertools
import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings

from refit.interchange.document import DocumentError, RefitDocument, check_document
from refit.interchange.export import export_refit
from refit.interchange.store import import_document
from refit.work.models import Boat, JournalEntry, Refit, WorkPackage
from tests.builders import A_MANAGER, NOW, a_dependency, a_package, a_piece, a_refit, a_user

from .documents import a_document, documents


def imported(data: Any) -> Refit:
    return import_document(check_document(data), actor=A_MANAGER, now=NOW)


@pytest.mark.django_db
@settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
@given(documents())
def test_any_document_comes_out_as_it_went_in(document: RefitDocument) -> None:
    with transaction.atomic():
        assert export_refit(imported(document)) == document
        transaction.set_rollback(True)


@pytest.mark.django_db
def test_a_document_of_two_hundred_packages_comes_out_as_it_went_in() -> None:
    data = a_document()
    data["packages"] = [
        data["packages"][0] | {"code": f"K{number:03}", "title": f"Lage {number} – ütt"}
        for number in range(200)
    ]
    data["dependencies"] = [
        {"before": f"K{number:03}", "after": f"K{number + 1:03}", "reason": "in turn"}
        for number in range(199)
    ]
    document = check_document(data)
    assert export_refit(imported(document)) == document


@pytest.mark.django_db
def test_the_number_of_queries_does_not_grow_with_the_refit() -> None:
    counts = []
    refit = a_refit()
    for packages in (1, 12):
        made = [a_package(refit, pieces=[a_piece(refit)]) for _ in range(packages)]
        for before, after in itertools.pairwise(made):
            a_dependency(before, after)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            export_refit(refit)
        counts.append(len(queries))
    assert counts == [45, 45]


@pytest.mark.django_db
def test_a_slug_that_is_taken_gets_a_number_and_nothing_else_changes() -> None:
    document = check_document(a_document())
    first, second, third = (imported(a_document()) for _ in range(3))
    assert [one.slug for one in (first, second, third)] == [
        "sallow-tern",
        "sallow-tern-2",
        "sallow-tern-3",
    ]
    again = export_refit(third)
    again["refit"]["slug"] = "sallow-tern"
    assert again == document == export_refit(first)


@pytest.mark.django_db
def test_an_import_writes_one_journal_entry_that_says_what_came() -> None:
    refit = imported(a_document())
    entry = JournalEntry.objects.get(refit=refit)
    assert (entry.verb, entry.at, entry.actor_name) == ("imported", NOW, A_MANAGER.name)
    assert entry.note == "From a refit document: 2 packages, 2 pieces, 2 places and 1 vendor."


@pytest.mark.django_db
def test_a_document_that_is_wrong_stores_nothing_even_if_nobody_checked_it() -> None:
    data: Any = a_document()
    data["packages"][1]["place"] = "Nowhere"
    with pytest.raises(DocumentError):
        import_document(data, actor=A_MANAGER, now=NOW)
    assert not Refit.objects.exists()
    assert not Boat.objects.exists()


# --- the commands ------------------------------------------------------------------------------


@pytest.mark.django_db
def test_the_commands_write_a_file_and_read_it_into_a_refit_with_a_manager(
    tmp_path: Path,
) -> None:
    user = a_user("runa@refit.example")
    imported(a_document())
    file = tmp_path / "tern.json"
    call_command("export", "sallow-tern", str(file), stderr=io.StringIO())
    said = io.StringIO()
    call_command("import", str(file), manager="Runa@refit.example", stdout=said)
    refit = Refit.objects.get(slug="sallow-tern-2")
    assert refit.memberships.get().user == user
    written = json.loads(file.read_text(encoding="utf-8"))
    written["refit"]["slug"] = refit.slug
    assert export_refit(refit) == written
    assert "Imported Pilothouse refit: 2 packages" in said.getvalue()


@pytest.mark.django_db
def test_export_writes_to_the_standard_output_when_no_file_is_named() -> None:
    imported(a_document())
    said = io.StringIO()
    call_command("export", "sallow-tern", stdout=said)
    assert json.loads(said.getvalue())["refit"]["slug"] == "sallow-tern"


@pytest.mark.django_db
def test_an_unknown_slug_gets_a_hint() -> None:
    imported(a_document())
    with pytest.raises(CommandError, match="Did you mean “sallow-tern”"):
        call_command("export", "sallow-turn")


@pytest.mark.django_db
def test_the_import_command_lists_every_problem_and_stores_nothing(tmp_path: Path) -> None:
    data = a_document()
    data["packages"][0]["place"] = "Nowhere"
    data["packages"][1]["low_minutes"] = -5
    file = tmp_path / "bad.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(CommandError) as caught:
        call_command("import", str(file))
    assert str(caught.value).splitlines() == [
        f"{file} was not imported; nothing was stored. 2 things are wrong:",
        "- packages[0] H01: place “Nowhere” is not among the places. There are: Home shed, "
        "Coating booth.",
        "- packages[1] H02: low_minutes must be a whole number of minutes from 0 to ten years; "
        "it is -5.",
    ]
    assert caught.value.returncode == 1
    assert not WorkPackage.objects.exists()


@pytest.mark.django_db
def test_the_import_command_says_when_file_or_manager_are_missing(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="cannot be read: No such file"):
        call_command("import", str(tmp_path / "none.json"))
    with pytest.raises(CommandError, match="no account with the address x@"):
        call_command("import", str(tmp_path / "none.json"), manager="x@refit.example")
