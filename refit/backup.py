"""One file that holds a whole installation, and putting it back into an empty one.

The file is a gzipped tar: ``manifest.json`` (what it is, counts, a checksum), ``rows.jsonl`` (one
row a line, in Django's serialization: no word of any one database), ``uploads/`` (the photos).
Between SQLite and PostgreSQL it goes both ways.

In it: everything of all refits, accounts with the hashes of their passwords, private links and
invitations as hashes. Not in it: the secret key, sessions and what is only of the moment. Without
the old key people sign in again and open their private link once more; nothing else is lost.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import os
import tarfile
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import IO, Any

from django.apps import apps
from django.conf import settings
from django.core import serializers
from django.core.management.color import no_style
from django.core.serializers.base import DeserializationError
from django.db import connection, transaction
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Model

FORMAT = 1
LEFT_OUT = {
    "accounts.LoginFailure",
    "interchange.Upload",
    "notices.Heartbeat",
}
"""Of the moment: refused sign-ins of a day, sheets waiting for a yes, when the schedule ran."""
NOT_OURS = {"auth", "contenttypes", "sessions"}
A_BATCH = 500


class CannotDo(Exception):
    """Why it was not done, a sentence for whoever asked; nothing is changed."""


def models() -> list[type[Model]]:
    """Every table that is backed up, what is referred to before what refers to it."""
    waiting = [
        model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.app_label not in NOT_OURS and model._meta.label not in LEFT_OUT
    ]
    ordered: list[type[Model]] = []
    while waiting:
        ready = [model for model in waiting if not _needs(model) & set(waiting) - {model}]
        # A ring of references: any order will do, constraints are looked at in the end.
        for model in ready or waiting[:1]:
            ordered.append(model)
            waiting.remove(model)
    return ordered


def _needs(model: type[Model]) -> set[Any]:
    return {field.related_model for field in model._meta.concrete_fields if field.related_model}


# --- out ------------------------------------------------------------------------------------------


def back_up(path: Path, *, now: datetime) -> dict[str, int]:
    """Write everything to ``path``; the number of rows by table. May run while refit serves.

    The rows are those of one moment. The file appears under its name when it is whole, readable
    for its owner only. `CannotDo` if it exists already.
    """
    if path.exists():
        raise CannotDo(f"{path} exists already. Choose another name, or move it away.")
    partial = path.with_name(path.name + ".partial")
    with tempfile.TemporaryDirectory() as folder:
        rows = Path(folder) / "rows.jsonl"
        with rows.open("w", encoding="utf-8") as file, _one_moment():
            counts = {model._meta.label: _write_rows(model, file) for model in models()}
            migrations = _migrations()
        manifest = {
            "refit backup": FORMAT,
            "made_at": now.isoformat(),
            "migrations": migrations,
            "rows": counts,
            "sha256": _checksum(rows),
        }
        described = Path(folder) / "manifest.json"
        described.write_text(json.dumps(manifest, indent=1, sort_keys=True))
        try:
            with (
                os.fdopen(
                    os.open(partial, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600), "wb"
                ) as out,
                tarfile.open(fileobj=out, mode="w:gz") as tar,
            ):
                tar.add(described, "manifest.json")
                tar.add(rows, "rows.jsonl")
                # After the rows: a photo is stored before its row, so each row finds its photo.
                if Path(settings.MEDIA_ROOT).is_dir():
                    tar.add(settings.MEDIA_ROOT, "uploads")
            partial.replace(path)
        finally:
            partial.unlink(missing_ok=True)
    return counts


@contextmanager
def _one_moment() -> Iterator[None]:
    """All reads inside see the database as at the first of them; nobody is kept from writing."""
    if connection.in_atomic_block:
        yield
        return
    with connection.cursor() as cursor:
        # Not `atomic`: on SQLite it would take the lock for writing (see the settings).
        cursor.execute(
            "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
            if connection.vendor == "postgresql"
            else "BEGIN DEFERRED"
        )
        try:
            yield
        finally:
            cursor.execute("ROLLBACK")


def _write_rows(model: type[Model], file: IO[str]) -> int:
    number = 0
    names = [field.name for field in model._meta.concrete_fields]
    rows = model._base_manager.order_by("pk")
    last: Any = None
    while batch := list((rows if last is None else rows.filter(pk__gt=last))[:A_BATCH]):
        serializers.serialize("jsonl", batch, fields=names, stream=file)
        number, last = number + len(batch), batch[-1].pk
    return number


def _migrations() -> list[str]:
    ours = {model._meta.app_label for model in models()}
    applied = MigrationRecorder(connection).applied_migrations()
    return sorted(f"{app}.{name}" for app, name in applied if app in ours)


def _checksum(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


# --- in -------------------------------------------------------------------------------------------


def restore(path: Path) -> dict[str, int]:
    """Put a backup into this installation, which must be migrated and empty.

    The number of rows by table. `CannotDo` if the file is damaged, of another version, or the
    installation is not empty; then nothing is changed.
    """
    _refuse_unless_empty()
    with tempfile.TemporaryDirectory() as folder:
        manifest = _unpack(path, Path(folder))
        rows, uploads = Path(folder) / "rows.jsonl", Path(folder) / "uploads"
        if _checksum(rows) != manifest.get("sha256"):
            raise CannotDo(f"{path} is damaged: its rows are not those that were written.")
        _refuse_other_version(manifest.get("migrations", []))
        with transaction.atomic():
            with connection.constraint_checks_disabled(), rows.open(encoding="utf-8") as file:
                try:
                    counts = _read_rows(file)
                except (DeserializationError, ValueError) as problem:
                    raise CannotDo(f"{path} cannot be read: {problem}") from None
            if counts != {label: n for label, n in manifest["rows"].items() if n}:
                raise CannotDo(f"{path} is damaged: it holds fewer or more rows than it says.")
            connection.check_constraints()
            _set_counters()
            if uploads.is_dir():
                _copy(uploads, Path(settings.MEDIA_ROOT))
    return counts


def _refuse_unless_empty() -> None:
    filled = [model._meta.verbose_name_plural for model in models() if model._base_manager.exists()]
    if filled:
        raise CannotDo(
            f"This installation is not empty: it has {filled[0]}. Restore into a new one, with"
            " another data folder (--data) or another database."
        )
    uploads = Path(settings.MEDIA_ROOT)
    if uploads.is_dir() and any(found.is_file() for found in uploads.rglob("*")):
        raise CannotDo(f"There are uploads in {uploads}. Restore into an empty data folder.")


def _unpack(path: Path, folder: Path) -> dict[str, Any]:
    try:
        with tarfile.open(path, mode="r:gz") as tar:
            for entry in tar:
                first = PurePosixPath(entry.name).parts[:1]
                known = entry.name in ("manifest.json", "rows.jsonl") or first == ("uploads",)
                if not known or not (entry.isfile() or entry.isdir()):
                    raise CannotDo(f"{path} is no backup of refit: it holds “{entry.name}”.")
                # The filter keeps every entry inside the folder.
                tar.extract(entry, folder, filter="data")
        manifest: dict[str, Any] = json.loads((folder / "manifest.json").read_text())
        if manifest["refit backup"] != FORMAT or not (folder / "rows.jsonl").is_file():
            raise KeyError
        return manifest
    except FileNotFoundError:
        if path.exists():
            raise CannotDo(f"{path} is no backup of refit.") from None
        raise CannotDo(f"There is no file {path}.") from None
    except (tarfile.TarError, OSError, EOFError, ValueError, KeyError, TypeError) as problem:
        raise CannotDo(f"{path} is no backup of refit, or is damaged ({problem}).") from None


def _refuse_other_version(theirs: list[str]) -> None:
    ours = _migrations()
    if set(theirs) == set(ours):
        return
    newer, missing = sorted(set(theirs) - set(ours)), sorted(set(ours) - set(theirs))
    version = f"another version of refit ({newer[0]} is unknown here)" if newer else ""
    raise CannotDo(
        f"The backup was made by {version or f'an older version of refit, before {missing[0]}'}."
        " Install that version, restore, then update."
    )


def _read_rows(file: IO[str]) -> dict[str, int]:
    counts: dict[str, int] = {}
    allowed = set(models())
    objects: Iterator[Model] = (read.object for read in serializers.deserialize("jsonl", file))
    for model, group in itertools.groupby(objects, lambda row: row.__class__):
        if model not in allowed:
            raise ValueError(f"it holds {model._meta.label}")
        while batch := list(itertools.islice(group, A_BATCH)):
            model._base_manager.bulk_create(batch)
            label = model._meta.label
            counts[label] = counts.get(label, 0) + len(batch)
    return counts


def _set_counters() -> None:
    """The next new row must not get a number that a restored one has."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), models()):
            cursor.execute(statement)


def _copy(source: Path, target: Path) -> None:
    for found in sorted(source.rglob("*")):
        if found.is_file():
            to = target / found.relative_to(source)
            to.parent.mkdir(parents=True, exist_ok=True)
            to.write_bytes(found.read_bytes())
