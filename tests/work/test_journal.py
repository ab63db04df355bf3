"""The journal is added to and never altered: by the code, and by the database itself."""

from __future__ import annotations

import pytest
from django.db import DatabaseError, connection, transaction

from refit.work.models import Actor, JournalEntry, record
from refit.work.models.journal import NotAltered
from tests.builders import NOW, a_link, a_piece, a_refit, a_user

pytestmark = pytest.mark.django_db


def an_entry() -> JournalEntry:
    refit = a_refit()
    link, _ = a_link(refit)
    actor = Actor(name="Runa Ostlund", side="manager", user_id=a_user().pk, link_id=link.pk)
    return record(
        refit=refit, actor=actor, now=NOW, verb="changed", subject=a_piece(refit),
        before={"parts": 3}, after={"parts": 4},
    )  # fmt: skip


def test_the_code_neither_alters_nor_removes_an_entry() -> None:
    entry = an_entry()
    entry.note = "another story"
    with pytest.raises(NotAltered):
        entry.save()
    with pytest.raises(NotAltered):
        entry.delete()
    with pytest.raises(NotAltered):
        JournalEntry.objects.filter(pk=entry.pk).update(note="another story")
    with pytest.raises(NotAltered):
        JournalEntry.objects.all().delete()
    assert JournalEntry.objects.get().note == ""


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("at", "2020-01-01 00:00:00+00:00"), ("actor_name", "nobody"), ("verb", "x"),
        ("subject_id", 99), ("before", "{}"), ("after", "{}"), ("note", "x"), ("user_id", 99),
        ("link_id", 99),
    ],
)  # fmt: skip
def test_the_database_refuses_it_too(column: str, value: str | int) -> None:
    entry = an_entry()
    with (
        pytest.raises(DatabaseError, match="never altered"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(f"UPDATE work_journalentry SET {column} = %s", [value])
    assert JournalEntry.objects.get().after == entry.after


def test_an_account_or_a_link_that_goes_is_forgotten_and_the_name_stays() -> None:
    entry = an_entry()
    assert entry.user is not None
    assert entry.link is not None
    entry.user.delete()
    entry.link.delete()
    kept = JournalEntry.objects.get()
    assert (kept.user, kept.link, kept.actor_name) == (None, None, "Runa Ostlund")
