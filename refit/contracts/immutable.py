"""Rows that the database itself refuses to alter or remove: what somebody agreed to.

A trigger on each of the two databases; Django can be argued with, a trigger cannot.
"""

from __future__ import annotations

from typing import Any


def guard(table: str) -> Any:
    """For `migrations.RunPython`: from now on rows of ``table`` are only added."""

    def run(apps: Any, schema_editor: Any) -> None:
        for statement in _statements(table, schema_editor.connection.vendor):
            schema_editor.execute(statement)

    return run


def unguard(table: str) -> Any:
    """The way back."""

    def run(apps: Any, schema_editor: Any) -> None:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(f"DROP TRIGGER {table}_stays ON {table}")
            schema_editor.execute(f"DROP FUNCTION {table}_stays()")
            return
        for act in ("update", "delete"):
            schema_editor.execute(f"DROP TRIGGER {table}_no_{act}")

    return run


def _statements(table: str, vendor: str) -> list[str]:
    said = f"{table}: what was agreed is neither altered nor removed"
    if vendor == "postgresql":
        return [
            f"CREATE FUNCTION {table}_stays() RETURNS trigger LANGUAGE plpgsql AS"
            f" $$ BEGIN RAISE EXCEPTION '{said}' USING ERRCODE = 'integrity_constraint_violation';"
            " END $$",
            f"CREATE TRIGGER {table}_stays BEFORE UPDATE OR DELETE ON {table}"
            f" FOR EACH ROW EXECUTE FUNCTION {table}_stays()",
        ]
    return [
        f"CREATE TRIGGER {table}_no_{act.lower()} BEFORE {act} ON {table}"
        f" BEGIN SELECT RAISE(ABORT, '{said}'); END"
        for act in ("UPDATE", "DELETE")
    ]
