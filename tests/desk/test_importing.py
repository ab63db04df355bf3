"""The pages that take sheets and documents in and give them out."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone

from refit.accounts.models import Role
from refit.interchange.columns import SHEETS
from refit.interchange.document import check_document
from refit.interchange.export import export_refit
from refit.interchange.models import Upload
from refit.interchange.reading import read_files
from refit.work.models import JournalEntry, Refit, WorkPackage
from tests.builders import a_member, a_user
from tests.interchange.documents import a_document
from tests.interchange.sheets import as_csv, as_xlsx, the_refit

pytestmark = pytest.mark.django_db

HEAD = ["code", "title", "place", "likely"]


def signed_in(refit: Refit, role: str = Role.MANAGER) -> Client:
    client = Client()
    client.force_login(a_member(refit, role))
    return client


def upload(client: Client, refit: Refit, name: str, content: bytes) -> tuple[int, str, str]:
    """Status, where it leads, and what the page says."""
    answer = client.post(f"/r/{refit.slug}/import/", {"files": SimpleUploadedFile(name, content)})
    return answer.status_code, answer.headers.get("Location", ""), answer.content.decode()


def test_sheets_are_shown_first_and_stored_when_somebody_says_so() -> None:
    refit = the_refit()
    client = signed_in(refit)
    rows = as_csv(HEAD, ["N1", "New job", "Home shed", "6 h"], ["H01", "Other", "Home shed", "1 d"])
    status, to, _ = upload(client, refit, "packages.csv", rows)
    assert status == 302
    assert WorkPackage.objects.count() == 2
    page = client.get(to).content.decode()
    assert "1 package new, 1 changed" in page
    assert "Package H01" in page
    assert "Other" in page
    assert WorkPackage.objects.count() == 2
    answer = client.post(to, follow=True)
    assert "Imported sheets: 1 package new, 1 changed." in answer.content.decode()
    assert WorkPackage.objects.get(code="H01").title == "Other"
    assert WorkPackage.objects.filter(code="N1").exists()
    assert JournalEntry.objects.filter(refit=refit, verb="imported").count() == 2
    assert client.post(to).status_code == 404


def test_bad_rows_are_listed_on_the_page_and_nothing_waits() -> None:
    refit = the_refit()
    rows = [HEAD, ["N1", "New", "Home shed", "6"], ["N2", "<b>New</b>", "Cotaing booth", "6 h"]]
    status, _, page = upload(signed_in(refit), refit, "packages.xlsx", as_xlsx(packages=rows))
    assert status == 200
    assert "2 things are wrong" in page
    assert "packages, row 2, column “likely”" in page
    assert "Did you mean “Coating booth”?" in page
    assert not Upload.objects.exists()


def test_what_changed_in_between_is_looked_at_again() -> None:
    refit = the_refit()
    client = signed_in(refit)
    _, to, _ = upload(
        client, refit, "packages.csv", as_csv(HEAD, ["N1", "New", "Coating booth", "6 h"])
    )
    WorkPackage.objects.filter(code="H02").delete()
    refit.places.filter(name="Coating booth").delete()
    answer = client.post(to)
    assert answer.status_code == 200
    assert "Nothing was stored." in answer.content.decode()
    assert not WorkPackage.objects.filter(code="N1").exists()


def test_only_who_uploaded_sees_what_waits_and_only_the_newest_waits() -> None:
    refit = the_refit()
    client = signed_in(refit)
    _, first, _ = upload(client, refit, "zones.csv", as_csv(["name"], ["Bow"]))
    assert signed_in(refit).get(first).status_code == 404
    old = Upload.objects.create(
        refit=refit, user=a_user(), at=timezone.now() - timedelta(days=2), names="x", tables={}
    )
    _, second, _ = upload(client, refit, "zones.csv", as_csv(["name"], ["Stern"]))
    assert client.get(first).status_code == 404
    assert client.get(second).status_code == 200
    assert not Upload.objects.filter(pk=old.pk).exists()


def test_uploading_nothing_is_answered_with_a_sentence() -> None:
    refit = the_refit()
    answer = signed_in(refit).post(f"/r/{refit.slug}/import/")
    assert answer.status_code == 200
    assert "Choose at least one file." in answer.content.decode()


def test_strangers_find_no_page_and_readers_and_crew_may_not_import() -> None:
    refit = the_refit()
    stranger = signed_in(the_refit())
    for path in ("import/", "import/template.xlsx", "export.json"):
        assert stranger.get(f"/r/{refit.slug}/{path}").status_code == 404
        assert Client().get(f"/r/{refit.slug}/{path}").status_code == 302
        for role in (Role.CREW, Role.READER):
            assert signed_in(refit, role).get(f"/r/{refit.slug}/{path}").status_code == 403


def test_exports_read_back_as_the_refit() -> None:
    refit = the_refit()
    client = signed_in(refit)
    answer = client.get(f"/r/{refit.slug}/export.json")
    assert answer.headers["Content-Disposition"].startswith('attachment; filename="sallow-tern-')
    assert check_document(json.loads(answer.content)) == export_refit(refit)
    for form in ("xlsx", "zip"):
        content = client.get(f"/r/{refit.slug}/export.{form}").content
        assert len(read_files([(f"a.{form}", content)]).tables) == len(SHEETS)
        template = client.get(f"/r/{refit.slug}/import/template.{form}").content
        assert all(not table.rows for table in read_files([("a", template)]).tables)
    assert client.get(f"/r/{refit.slug}/export.pdf").status_code == 404
    assert client.get(f"/r/{refit.slug}/import/template.pdf").status_code == 404


def test_a_document_becomes_a_new_refit_of_whoever_brings_it() -> None:
    user = a_user()
    client = Client()
    client.force_login(user)
    text = json.dumps(a_document())
    answer = client.post("/new/document/", {"text": text})
    assert answer.headers["Location"] == "/r/sallow-tern/"
    assert Refit.objects.get().memberships.get().user == user
    file = SimpleUploadedFile("tern.json", text.encode())
    assert client.post("/new/document/", {"file": file}).headers["Location"] == "/r/sallow-tern-2/"


def test_a_document_that_is_wrong_comes_back_with_all_its_problems() -> None:
    client = Client()
    client.force_login(a_user())
    data = a_document()
    data["packages"][0]["place"] = "Nowhere"
    del data["boat"]["name"]
    page = client.post("/new/document/", {"text": json.dumps(data)}).content.decode()
    assert "2 things are wrong" in page
    assert "place “Nowhere” is not among the places." in page
    assert "Nowhere" in page.split("<textarea", 1)[1]
    assert "Choose a file, or paste its text." in client.post("/new/document/").content.decode()
    assert not Refit.objects.exists()
    assert Client().get("/new/document/").status_code == 302


def test_csv_downloads_carry_a_mark_that_spreadsheets_know_as_unicode() -> None:
    refit = the_refit()
    content = signed_in(refit).get(f"/r/{refit.slug}/export.zip").content
    archive = zipfile.ZipFile(io.BytesIO(content))
    assert archive.read("packages.csv").startswith(b"\xef\xbb\xbfcode,")
