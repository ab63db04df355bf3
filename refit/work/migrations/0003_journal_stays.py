"""The database refuses to alter an entry of the journal, whoever asks.

Only ``user`` and ``link`` may become empty, when an account or a link is removed. On SQLite a later
migration that alters this table makes it anew without its triggers, and must call `guard` again: a
test says so (``tests/work/test_journal.py``).
"""

from django.db import migrations

KEPT = (
    "id", "refit_id", "at", "actor_name", "actor_side", "verb", "subject_kind", "subject_id",
    "subject_name", "before", "after", "note",
)
SAID = "Entries of the journal are added, never altered."


def guard(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        differs = " OR ".join(f"NEW.{name}::text IS DISTINCT FROM OLD.{name}::text" for name in KEPT)
        differs += "".join(
            f" OR (NEW.{name} IS NOT NULL AND NEW.{name} IS DISTINCT FROM OLD.{name})"
            for name in ("user_id", "link_id")
        )
        schema_editor.execute(
            "CREATE OR REPLACE FUNCTION work_journal_stays() RETURNS trigger AS $$ BEGIN"
            f" IF {differs} THEN RAISE EXCEPTION '{SAID}'; END IF; RETURN NEW; END"
            " $$ LANGUAGE plpgsql"
        )
        schema_editor.execute(
            "CREATE TRIGGER work_journal_stays BEFORE UPDATE ON work_journalentry"
            " FOR EACH ROW EXECUTE FUNCTION work_journal_stays()"
        )
    elif schema_editor.connection.vendor == "sqlite":
        differs = " OR ".join(f'NEW."{name}" IS NOT OLD."{name}"' for name in KEPT)
        differs += "".join(
            f' OR (NEW."{name}" IS NOT NULL AND NEW."{name}" IS NOT OLD."{name}")'
            for name in ("user_id", "link_id")
        )
        schema_editor.execute(
            f"CREATE TRIGGER work_journal_stays BEFORE UPDATE ON work_journalentry WHEN {differs}"
            f" BEGIN SELECT RAISE(ABORT, '{SAID}'); END"
        )


def unguard(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("DROP TRIGGER IF EXISTS work_journal_stays ON work_journalentry")
        schema_editor.execute("DROP FUNCTION IF EXISTS work_journal_stays()")
    elif schema_editor.connection.vendor == "sqlite":
        schema_editor.execute("DROP TRIGGER IF EXISTS work_journal_stays")


class Migration(migrations.Migration):

    dependencies = [
        ("work", "0002_link_days"),
    ]

    operations = [
        migrations.RunPython(guard, unguard),
    ]
