"""Triggers that make a table append-only, in the dialect of each engine; migrations put them in place."""

from __future__ import annotations

from typing import Any

WORDS = "the record is append-only: add a row that supersedes this one"
PREFIX = "append_only"
BODY = f"BEGIN RAISE EXCEPTION '{WORDS} (%)', TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation'; END"
FUNCTION = f"CREATE OR REPLACE FUNCTION kilter_append_only() RETURNS trigger LANGUAGE plpgsql AS $$\n{BODY}\n$$"


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
    kinds = _kinds(editor.connection.vendor, updates=updates)
    if editor.connection.vendor == "sqlite":
        for kind in kinds:
            editor.execute(f"CREATE TRIGGER IF NOT EXISTS {_sqlite(table, kind)}")
        return
    editor.execute(FUNCTION, None)  # no parameters: its per cent sign is its own
    for kind in kinds:
        each = "STATEMENT" if kind == "TRUNCATE" else "ROW"
        editor.execute(
            f'CREATE OR REPLACE TRIGGER "{_name(table, kind)}" BEFORE {kind} ON "{table}" '
            f"FOR EACH {each} EXECUTE FUNCTION kilter_append_only()"
        )


def unprotect(editor: Any, table: str) -> None:
    """Takes the triggers of a table away, for a migration that goes back."""
    where = "" if editor.connection.vendor == "sqlite" else f' ON "{table}"'
    for kind in ("UPDATE", "DELETE", "TRUNCATE"):
        editor.execute(f'DROP TRIGGER IF EXISTS "{_name(table, kind)}"{where}')


def unprotected(connection: Any, tables: dict[str, bool]) -> tuple[str, ...]:
    """
    Tables whose triggers are missing, switched off or not what a migration made of them.

    Args:
        connection: Django's connection.
        tables: Name of each table, and whether updates are refused too.
    """
    look = _of_sqlite if connection.vendor == "sqlite" else _of_postgresql
    with connection.cursor() as cursor:
        there = look(cursor)
    return tuple(
        table
        for table, updates in sorted(tables.items())
        if not {(table, kind) for kind in _kinds(connection.vendor, updates=updates)} <= there
    )


def _of_sqlite(cursor: Any) -> set[tuple[str, str]]:
    cursor.execute("SELECT tbl_name, sql FROM sqlite_master WHERE type = 'trigger'")
    rows = cursor.fetchall()
    return {
        (table, kind) for table, text in rows for kind in _kinds("sqlite") if str(text).endswith(_sqlite(table, kind))
    }


def _of_postgresql(cursor: Any) -> set[tuple[str, str]]:
    cursor.execute("SELECT prosrc FROM pg_proc WHERE proname = 'kilter_append_only'")
    if [str(row[0]).strip() for row in cursor.fetchall()] != [BODY]:
        return set()  # the function that they all call was put out of action
    cursor.execute(
        "SELECT c.relname, t.tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
        "JOIN pg_proc p ON p.oid = t.tgfoid WHERE t.tgenabled IN ('O', 'A') AND p.proname = 'kilter_append_only'"
    )
    rows = cursor.fetchall()
    return {(table, kind) for table, name in rows for kind in _kinds("postgresql") if name == _name(table, kind)}


def _kinds(vendor: str, *, updates: bool = True) -> tuple[str, ...]:
    first = ("UPDATE", "DELETE") if updates else ("DELETE",)
    return first if vendor == "sqlite" else (*first, "TRUNCATE")


def _name(table: str, kind: str) -> str:
    return f"{PREFIX}_{table}_{kind.lower()}"


def _sqlite(table: str, kind: str) -> str:
    return f'"{_name(table, kind)}" BEFORE {kind} ON "{table}" BEGIN SELECT RAISE(ABORT, \'{WORDS} ({table})\'); END'


def protected_tables() -> dict[str, bool]:
    """Every table that has to be protected, and whether updates are refused too."""
    from django.apps import apps

    from kilter.store.models import CollectionObject, JournalRow
    from kilter.store.models.append_only import AppendOnly

    models = apps.get_app_config("store").get_models()
    found = {one._meta.db_table: True for one in models if issubclass(one, AppendOnly)}
    return {**found, JournalRow._meta.db_table: True, CollectionObject._meta.db_table: False}
