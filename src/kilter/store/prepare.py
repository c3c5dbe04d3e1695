"""Make a record, or bring an older one up to date: the data folder, its secret key, the tables."""

from __future__ import annotations

import os
import secrets
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor

from kilter.measure.errors import BadInput
from kilter.store.place import KEY_FILE, Place, place
from kilter.store.trouble import plainly

DOING = "Cannot prepare the record"
OWN = "store"


def prepare(where: Place | None = None) -> Place:
    """
    Makes what is not there yet; what is there stays.

    Raises:
        BadInput: The folder or the database cannot be written, or a later release made the record.
    """
    where = where or place()
    with plainly(DOING):
        where.home.mkdir(parents=True, exist_ok=True, mode=0o700)
        key = where.home / KEY_FILE
        if not key.exists():
            handle = os.open(key, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "w", encoding="ascii") as file:
                file.write(secrets.token_urlsafe(48) + "\n")
        own_file(connection)
        _is_behind(DOING)
        call_command("migrate", verbosity=0, interactive=False)
    return where


def is_prepared() -> bool:
    """Whether the tables are there and of this release."""
    try:
        return not _is_behind("")
    except (DatabaseError, BadInput):
        return False


def demand_record(doing: str) -> None:
    """
    Lets a record of this release through.

    Args:
        doing: What is being done, for the message.

    Raises:
        BadInput: There is no record, or one of an earlier or later release.
    """
    where = place()
    with plainly(doing):
        if where.engine == "sqlite" and not Path(str(connection.settings_dict["NAME"])).exists():
            raise BadInput(doing, f"no record in {where.home}", "a record that 'kilter store init' made",
                           "Run 'kilter store init', or name the data folder with KILTER_HOME.")  # fmt: skip
        if _is_behind(doing):
            raise BadInput(doing, "a database without tables, or with those of an earlier release",
                           "a record that 'kilter store init' has made ready", "Make a backup of what is there, "
                           "then run 'kilter store init'.")  # fmt: skip


def _is_behind(doing: str) -> bool:
    """Whether migrations are missing. An older release must not write to a record whose tables it does not know."""
    executor = MigrationExecutor(connection)
    loader = executor.loader
    unknown = sorted(name for app, name in loader.applied_migrations.keys() - loader.graph.nodes.keys() if app == OWN)
    if unknown:
        raise BadInput(doing, f"a record of a later release ({unknown[-1]})", "a record of this release or an earlier",
                       "Use the release that wrote it.")  # fmt: skip
    return bool(executor.migration_plan(loader.graph.leaf_nodes()))


def own_file(connection: Any) -> None:
    """Makes the file of an SQLite database, so that nobody but its owner may read it."""
    if connection.vendor == "sqlite":
        path = Path(str(connection.settings_dict["NAME"]))
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))
