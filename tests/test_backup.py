"""A backup put back is equal: on SQLite, from SQLite to PostgreSQL and back."""

from __future__ import annotations

import io
import json
import os
import stat
import subprocess
import sys
import tarfile
from pathlib import Path

import pytest

from tests.services.scratch import scratch_database

ROOT = Path(__file__).resolve().parents[1]
SERVER = os.environ.get("REFIT_TEST_POSTGRESQL", "")


def run(folder: Path, *words: str, database: str = "", fails: bool = False) -> str:
    """``manage.py`` in an installation of its own; what it says."""
    environment = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("REFIT_", "DJANGO_"))
    }
    environment["REFIT_DATA"] = str(folder)
    if database:
        environment["REFIT_DATABASE_URL"] = database
    answer = subprocess.run(
        [sys.executable, *words], cwd=ROOT, env=environment, capture_output=True, text=True,
        timeout=180,
    )  # fmt: skip
    assert (answer.returncode != 0) == fails, answer.stderr
    return answer.stdout + answer.stderr


def manage(folder: Path, *words: str, database: str = "", fails: bool = False) -> str:
    return run(folder, "manage.py", *words, database=database, fails=fails)


FILL = """
import django; django.setup()
from django.utils import timezone
from refit.accounts.models import Membership
from refit.accounts.parts import invite
from refit.custody.pictures import add_picture
from refit.demo.load import load_demo
from refit.notices.models import KindWish
from refit.notices.services import write_notices
from refit.work.models import Actor, Refit
from tests.custody.scene import a_photo
now = timezone.now()
load_demo(now=now)
refit = Refit.objects.get()
add_picture(piece=refit.pieces.first(), upload=a_photo(), actor=Actor("Runa", "manager"), now=now)
invite(refit=refit, email="ola@refit.example", role="crew", invited_by="Runa", now=now)
KindWish.objects.create(
    refit=refit, person="owner:a@b.example", kind="launch", how="never", since=now
)
write_notices(refit=refit, now=now)
"""
SHOW = """
import django; django.setup()
import hashlib, json
from pathlib import Path
from django.conf import settings
from django.core import serializers
from refit.backup import models
root = Path(settings.MEDIA_ROOT)
print(json.dumps({
    "rows": {
        m._meta.label: json.loads(serializers.serialize("json", m._base_manager.order_by("pk")))
        for m in models()
    },
    "uploads": {str(f.relative_to(root)): hashlib.sha256(f.read_bytes()).hexdigest()
                for f in sorted(root.rglob("*")) if f.is_file()},
}))
"""
NEXT = """
import django; django.setup()
from tests.builders import a_refit, a_piece
a_piece(a_refit())
"""


def python(folder: Path, code: str, database: str = "") -> str:
    return run(
        folder, "-c", "import os; os.environ['DJANGO_SETTINGS_MODULE'] = 'refit.settings'\n" + code,
        database=database,
    )  # fmt: skip


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An installation on SQLite with the demo in it and ``backup.tar.gz`` beside its data."""
    folder = tmp_path_factory.mktemp("filled")
    manage(folder, "migrate", "-v0")
    python(folder, FILL)
    assert "1 refit(s)" in manage(folder, "backup", str(folder / "backup.tar.gz"))
    return folder


def test_it_holds_something_of_everything_that_matters(filled: Path) -> None:
    shown = json.loads(python(filled, SHOW))
    for table in (
        "accounts.User", "accounts.PrivateLink", "accounts.Invitation", "work.JournalEntry",
        "work.WorkPackage_people", "custody.Handoff", "custody.Picture", "planning.PlannedPackage",
        "planning.PlanSource", "notices.Notice", "notices.KindWish",
    ):  # fmt: skip
        assert shown["rows"][table], table
    assert len(shown["uploads"]) == 2


def test_restored_on_sqlite_it_is_equal_and_goes_on(filled: Path, tmp_path: Path) -> None:
    said = manage(tmp_path, "restore", str(filled / "backup.tar.gz"))
    assert "Restored 1 refit(s)" in said
    assert python(tmp_path, SHOW) == python(filled, SHOW)
    python(tmp_path, NEXT)


def _check_equal(one: str, other: str) -> None:
    """Table by table, so that a difference can be read. Keys of JSON may stand in another order."""
    left, right = json.loads(one), json.loads(other)
    assert left["uploads"] == right["uploads"]
    assert left["rows"].keys() == right["rows"].keys()
    for table, rows in left["rows"].items():
        assert rows == right["rows"][table], table


@pytest.mark.postgresql
@pytest.mark.skipif(not SERVER, reason="PostgreSQL is not running here; set REFIT_TEST_POSTGRESQL")
def test_to_postgresql_and_back_it_is_equal_and_goes_on(filled: Path, tmp_path: Path) -> None:
    there, back = tmp_path / "there", tmp_path / "back"
    with scratch_database(SERVER) as database:
        manage(there, "restore", str(filled / "backup.tar.gz"), database=database)
        _check_equal(python(there, SHOW, database), python(filled, SHOW))
        manage(there, "backup", str(tmp_path / "second.tar.gz"), database=database)
        python(there, NEXT, database)
    manage(back, "restore", str(tmp_path / "second.tar.gz"))
    _check_equal(python(back, SHOW), python(filled, SHOW))


@pytest.mark.postgresql
@pytest.mark.skipif(not SERVER, reason="PostgreSQL is not running here; set REFIT_TEST_POSTGRESQL")
def test_through_the_document_it_comes_to_postgresql_and_back_equal(
    filled: Path, tmp_path: Path
) -> None:
    there, back = tmp_path / "there", tmp_path / "back"
    first, second, third = (tmp_path / f"{name}.json" for name in ("first", "second", "third"))
    manage(filled, "export", "sallow-tern", str(first))
    with scratch_database(SERVER) as database:
        manage(there, "migrate", "-v0", database=database)
        manage(there, "import", str(first), database=database)
        manage(there, "export", "sallow-tern", str(second), database=database)
    manage(back, "migrate", "-v0")
    manage(back, "import", str(second))
    manage(back, "export", "sallow-tern", str(third))
    documents = [json.loads(file.read_text()) for file in (first, second, third)]
    assert len(documents[0]["packages"]) > 50
    for part, value in documents[0].items():
        assert documents[1][part] == documents[2][part] == value, part


def test_only_an_empty_installation_takes_it_and_the_file_is_not_overwritten(filled: Path) -> None:
    before = python(filled, SHOW)
    said = manage(filled, "restore", str(filled / "backup.tar.gz"), fails=True)
    assert "This installation is not empty" in said
    assert python(filled, SHOW) == before
    said = manage(filled, "backup", str(filled / "backup.tar.gz"), fails=True)
    assert "exists already" in said


def test_the_file_is_for_its_owner_only_and_holds_no_secret_key(filled: Path) -> None:
    file = filled / "backup.tar.gz"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    key = (filled / "secret-key").read_bytes()
    with tarfile.open(file) as tar:
        assert all(
            key not in content.read()
            for entry in tar
            if (content := tar.extractfile(entry)) is not None
        )


def _rewritten(source: Path, target: Path, change: dict[str, bytes]) -> Path:
    with tarfile.open(source) as old, tarfile.open(target, "w:gz") as new:
        for entry in old:
            content = old.extractfile(entry)
            data = change.get(entry.name, content.read() if content else b"")
            entry.size = len(data)
            new.addfile(entry, io.BytesIO(data))
        for name in change.keys() - set(old.getnames()):
            extra = tarfile.TarInfo(name)
            extra.size = len(change[name])
            new.addfile(extra, io.BytesIO(change[name]))
    return target


def test_a_damaged_or_foreign_file_changes_nothing(filled: Path, tmp_path: Path) -> None:
    good, new = filled / "backup.tar.gz", tmp_path / "new"
    manage(new, "migrate", "-v0")
    with tarfile.open(good) as tar:
        file = tar.extractfile("manifest.json")
        assert file is not None
        manifest = json.load(file)
    later = manifest | {"migrations": [*manifest["migrations"], "work.9999_later"]}
    (tmp_path / "cut.tar.gz").write_bytes(good.read_bytes()[:2000])
    (tmp_path / "text.tar.gz").write_text("not a backup")
    for file_name, said in {
        "cut.tar.gz": "damaged",
        "text.tar.gz": "no backup of refit",
        "absent.tar.gz": "There is no file",
        _rewritten(good, tmp_path / "rows.tar.gz", {"rows.jsonl": b""}).name: "damaged",
        _rewritten(good, tmp_path / "out.tar.gz", {"../outside": b"x"}).name: "no backup of refit",
        _rewritten(
            good, tmp_path / "later.tar.gz", {"manifest.json": json.dumps(later).encode()}
        ).name: "work.9999_later is unknown here",
    }.items():
        assert said in manage(new, "restore", str(tmp_path / file_name), fails=True), file_name
    assert not (tmp_path / "outside").exists()
    shown = json.loads(python(new, SHOW))
    assert not any(shown["rows"].values())
    assert shown["uploads"] == {}
