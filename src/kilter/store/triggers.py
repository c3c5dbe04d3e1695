"""Triggers that make a table append-only, in the dialect of each engine; migrations put them in place."""

from __future__ import annotations

from typing import Any

WORDS = "the record is append-only: add a row that supersedes this one"
PREFIX = "append_only"
_FUNCTION = f"""
CREATE OR REPLACE FUNCTION kilter_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '{WORDS} (%)', TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation'; END $$
"""


def protect(editor: Any, table: str, *, updates: bool = True) -> None:
    """
    Refuses DELETE on a table, and UPDATE unless told otherwise.

    A later migration that alters a protected table on SQLite makes the table anew and has to protect it again; the
    check of the record finds a table without its triggers.

    Args:
        editor: Schema editor of the migration.
        table: Name of the table.
        updates: Refuse UPDATE as well.
    """
    kinds = ("UPDATE", "DELETE") if updates else ("DELETE",)
    if editor.connection.vendor == "sqlite":
        for kind in kinds:
            editor.execute(
                f'CREATE TRIGGER IF NOT EXISTS "{PREFIX}_{table}_{kind.lower()}" BEFORE {kind} ON "{table}" '
                f"BEGIN SELECT RAISE(ABORT, '{WORDS} ({table})'); END"
            )
        return
    editor.execute(_FUNCTION)
    for kind in (*kinds, "TRUNCATE"):
        each = "STATEMENT" if kind == "TRUNCATE" else "ROW"
        editor.execute(
            f'CREATE OR REPLACE TRIGGER "{PREFIX}_{table}_{kind.lower()}" BEFORE {kind} ON "{table}" '
            f"FOR EACH {each} EXECUTE FUNCTION kilter_append_only()"
        )


def unprotect(editor: Any, table: str) -> None:
    """Takes the triggers of a table away, for a migration that has to alter it."""
    for kind in ("update", "delete", "truncate"):
        where = "" if editor.connection.vendor == "sqlite" else f' ON "{table}"'
        editor.execute(f'DROP TRIGGER IF EXISTS "{PREFIX}_{table}_{kind}"{where}')


def unprotected(connection: Any, tables: dict[str, bool]) -> tuple[str, ...]:
    """
    Tables whose triggers are not there.

    Args:
        connection: Django's.
        tables: Table name to whether updates are refused too.
    """
    if connection.vendor == "sqlite":
        question = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    else:
        question = "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
    with connection.cursor() as cursor:
        cursor.execute(question)
        there = {row[0] for row in cursor.fetchall()}
    return tuple(
        table
        for table, updates in sorted(tables.items())
        if not {f"{PREFIX}_{table}_{kind}" for kind in (("update", "delete") if updates else ("delete",))} <= there
    )


def protected_tables() -> dict[str, bool]:
    """Every table that has to be protected, and whether updates are refused too."""
    from django.apps import apps

    from kilter.store.models import CollectionObject, JournalRow
    from kilter.store.models.append_only import AppendOnly

    models = apps.get_app_config("store").get_models()
    found = {one._meta.db_table: True for one in models if issubclass(one, AppendOnly)}
    return {**found, JournalRow._meta.db_table: True, CollectionObject._meta.db_table: False}
