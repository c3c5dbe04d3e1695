"""Make a record, or bring an older one up to date: the data folder, its secret key, the tables."""

from __future__ import annotations

import os
import secrets

from kilter.store.place import KEY_FILE, Place, place
from kilter.store.trouble import plainly


def prepare(where: Place | None = None) -> Place:
    """
    Makes what is not there yet; what is there stays.

    Raises:
        BadInput: The folder or the database cannot be written.
    """
    from django.core.management import call_command

    where = where or place()
    with plainly("Cannot prepare the record"):
        where.home.mkdir(parents=True, exist_ok=True, mode=0o700)
        key = where.home / KEY_FILE
        if not key.exists():
            handle = os.open(key, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "w", encoding="ascii") as file:
                file.write(secrets.token_urlsafe(48) + "\n")
        call_command("migrate", verbosity=0, interactive=False)
    return where


def is_prepared() -> bool:
    """Whether the tables are there and of this release."""
    from django.db import DatabaseError, connection
    from django.db.migrations.executor import MigrationExecutor

    try:
        executor = MigrationExecutor(connection)
        return not executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return False
