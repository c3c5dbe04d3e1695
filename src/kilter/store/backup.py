"""Backups: a copy of the database made while it is in use, the files, and a list of both with their SHA-256."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.db import connection, transaction

from kilter.measure.errors import BadInput, NotAvailable
from kilter.services.journal_chain import START
from kilter.store.files import digest_of
from kilter.store.journal import head, moment, now
from kilter.store.models import Attachment
from kilter.store.place import DATABASE_FILE, FILES, place
from kilter.store.stored import find_break
from kilter.store.trouble import plainly
from kilter.store.verbs.files import file_store

EDITION = 1
MANIFEST, SQLITE, DUMP = "backup.json", DATABASE_FILE, "record.dump"


def back_up(target: Path, told: Callable[[str], None] = lambda _: None) -> dict[str, Any]:
    """
    Copies the record into a new folder. Others may go on working meanwhile: the copy is of one moment.

    Args:
        target: Must not be there yet. It holds personal data and password digests: lock it away like the record.
        told: Hears how far it is.

    Returns:
        The manifest: edition, when, engine, number and hash of the journal's last entry, files with SHA-256.

    Raises:
        BadInput: The folder is there already, a file of the record is missing, or the disk does not take it.
        NotAvailable: PostgreSQL's own copier is not on this machine.
    """
    doing = f"Cannot back up to {target}"
    if target.exists():
        raise BadInput(doing, "something of that name", "a folder that is not there yet", "Choose another name.")
    waiting = target.with_name(f".{target.name}.coming")
    with plainly(doing):
        shutil.rmtree(waiting, ignore_errors=True)
        waiting.mkdir(parents=True, mode=0o700)
        try:
            told("the database")
            where, made = place(), moment(now())
            name, (number, last), contents = (_copy_sqlite if where.engine == "sqlite" else _dump_postgresql)(waiting)
            told("the files")
            digests = {name: digest_of(waiting / name)}
            for sha256 in contents:
                digests[f"{FILES}/{sha256[:2]}/{sha256}"] = _copy_file(file_store().path(sha256), waiting, sha256)
            manifest = {"kilter_backup": EDITION, "made": made, "engine": where.engine, "journal": number,
                        "head": last, "files": digests}  # fmt: skip
            (waiting / MANIFEST).write_text(json.dumps(manifest, indent=1), "utf-8")
            if hasattr(os, "sync"):
                os.sync()
            waiting.rename(target)
        finally:
            shutil.rmtree(waiting, ignore_errors=True)
    return manifest


def _copy_sqlite(folder: Path) -> tuple[str, tuple[int, str], list[str]]:
    """The copy's name, the head of its journal and the contents it knows: all of one moment, read from the copy."""
    connection.ensure_connection()
    copy = sqlite3.connect(folder / SQLITE)
    try:
        connection.connection.backup(copy)  # in one step: writers go on, and it need not begin anew for each of them
        copy.execute("PRAGMA journal_mode=DELETE")
        contents = [str(row[0]) for row in copy.execute("SELECT sha256 FROM store_attachment ORDER BY id")]
        return SQLITE, _sqlite_head(copy), contents
    finally:
        copy.close()


def _sqlite_head(copy: sqlite3.Connection) -> tuple[int, str]:
    row = copy.execute("SELECT number, hash FROM store_journalrow ORDER BY number DESC LIMIT 1").fetchone()
    return (int(row[0]), str(row[1])) if row else (0, START)


def _dump_postgresql(folder: Path) -> tuple[str, tuple[int, str], list[str]]:
    """The same from PostgreSQL: its copier sees what this transaction sees."""
    settings, program = connection.settings_dict, _program("pg_dump")
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        cursor.execute("SELECT pg_export_snapshot()")
        snapshot = cursor.fetchone()[0]
        command = [program, "--format=custom", "--no-owner", f"--snapshot={snapshot}", f"--file={folder / DUMP}",
                   settings["NAME"]]  # fmt: skip
        _run(command, "Cannot back up the database", settings)
        return DUMP, head(), list(Attachment.objects.order_by("pk").values_list("sha256", flat=True))


def _copy_file(source: Path, folder: Path, sha256: str) -> str:
    target = folder / FILES / sha256[:2] / sha256
    target.parent.mkdir(parents=True, exist_ok=True)
    try:
        shutil.copyfile(source, target)
    except FileNotFoundError:
        raise BadInput("Cannot back up the files", f"no content {sha256[:12]}...", "all files that the record knows",
                       "Run 'kilter store check', and take the file from an older backup.") from None  # fmt: skip
    found = digest_of(target)
    if found != sha256:
        raise BadInput("Cannot back up the files", f"a content {sha256[:12]}... that was altered",
                       "files as they were kept", "Take the file from an older backup.")  # fmt: skip
    return found


def verify(folder: Path) -> dict[str, Any]:
    """
    Whether a backup is whole: every file of its list is there and unaltered.

    Returns:
        The manifest.

    Raises:
        BadInput: It is no backup, or something in it is missing or altered.
    """
    doing = f"Cannot use the backup {folder}"
    with plainly(doing):
        try:
            manifest = json.loads((folder / MANIFEST).read_text("utf-8"))
            files, edition = dict(manifest["files"]), manifest["kilter_backup"]
        except (FileNotFoundError, NotADirectoryError, ValueError, KeyError, TypeError):
            raise BadInput(doing, f"no list {MANIFEST} that can be read", "a folder that 'kilter store backup' made",
                           "Name another folder.") from None  # fmt: skip
        if edition != EDITION:
            raise BadInput(doing, f"a backup of edition {edition!r}", f"edition {EDITION}",
                           "Use the release that made it.")  # fmt: skip
        for name, digest in files.items():
            path = folder / name
            if ".." in Path(name).parts or Path(name).is_absolute() or not path.is_file():
                raise BadInput(doing, f"no file {name}", "every file of its list", "Use another backup.")
            if digest_of(path) != digest:
                raise BadInput(doing, f"a file {name} that was altered", "files as they were copied",
                               "Use another backup.")  # fmt: skip
        if SQLITE in files and _head_of(folder / SQLITE, doing) != (manifest.get("journal"), manifest.get("head")):
            raise BadInput(doing, "a journal that does not end as its list says", "the journal as it was copied",
                           "Use another backup.")  # fmt: skip
    return dict(manifest)


def _head_of(path: Path, doing: str) -> tuple[int, str]:
    copy = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro&immutable=1", uri=True)
    try:
        return _sqlite_head(copy)
    except sqlite3.Error as error:
        raise BadInput(doing, f"a database that cannot be read ({error})", "a copy of a record",
                       "Use another backup.") from None  # fmt: skip
    finally:
        copy.close()


def restore(folder: Path, told: Callable[[str], None] = lambda _: None) -> dict[str, Any]:
    """
    Puts a backup in place of nothing: the data folder must hold no record, and the database no tables.

    Args:
        folder: A backup of the same engine; between engines, restore and then use 'kilter store move'.
        told: Hears how far it is.

    Raises:
        BadInput: The backup is not whole or of the other engine, or there is a record already.
    """
    doing, where = f"Cannot restore {folder}", place()
    told("the backup's own list")
    manifest = verify(folder)
    if manifest["engine"] != where.engine:
        raise BadInput(doing, f"a backup of {manifest['engine']}", f"one of {where.engine}, as KILTER_DATABASE says",
                       "Restore it on its own engine, then use 'kilter store move'.")  # fmt: skip
    with plainly(doing):
        where.home.mkdir(parents=True, exist_ok=True, mode=0o700)
        if connection.introspection.table_names():
            raise BadInput(doing, f"a record in {where.shown}", "a place without a record",
                           "Name another folder with KILTER_HOME, or another database.")  # fmt: skip
        connection.close()
        told("the files")
        for name in manifest["files"]:
            if name.startswith(f"{FILES}/"):
                target = where.home / name
                target.parent.mkdir(parents=True, exist_ok=True)
                if not target.exists() or digest_of(target) != manifest["files"][name]:
                    target.unlink(missing_ok=True)
                    shutil.copyfile(folder / name, target)
                    target.chmod(0o444)
        told("the database")
        if where.engine == "sqlite":
            _put_sqlite(folder, Path(str(connection.settings_dict["NAME"])))
        else:
            settings = connection.settings_dict
            command = [_program("pg_restore"), "--no-owner", "--exit-on-error", "--single-transaction",
                       f"--dbname={settings['NAME']}", str(folder / DUMP)]  # fmt: skip
            _run(command, doing, settings)
        if head() != (manifest["journal"], manifest["head"]) or find_break() is not None:
            raise BadInput(doing, "a journal that does not end as the backup says, or whose chain is broken",
                           "the journal as it was copied", "Use another backup.")  # fmt: skip
    return manifest


def _put_sqlite(folder: Path, target: Path) -> None:
    """Copies beside the place first, so that a copy cut short is never taken for the record."""
    for left in (target, target.with_name(f"{target.name}-wal"), target.with_name(f"{target.name}-shm")):
        left.unlink(missing_ok=True)
    waiting = target.with_name(f".{target.name}.coming")
    shutil.copyfile(folder / SQLITE, waiting)
    waiting.chmod(0o600)
    waiting.replace(target)


def _program(name: str) -> str:
    found = shutil.which(name) or next(
        (str(one) for one in sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{name}"), reverse=True)), None
    )
    if found is None:
        raise NotAvailable("Cannot copy the database", f"no program '{name}' on this machine",
                           "PostgreSQL's client programs", "Install postgresql-client.")  # fmt: skip
    return found


def _run(command: list[str], doing: str, settings: dict[str, Any]) -> None:
    wanted = {"PGHOST": "HOST", "PGPORT": "PORT", "PGUSER": "USER", "PGPASSWORD": "PASSWORD"}
    more = {key: str(settings[name]) for key, name in wanted.items() if settings.get(name)}
    more |= {f"PG{key.upper()}": str(value) for key, value in settings["OPTIONS"].items()}  # as sslmode, PGSSLMODE
    done = subprocess.run(command, capture_output=True, text=True, check=False, env={**os.environ, **more})
    if done.returncode:
        last = (done.stderr.strip().splitlines() or ["no words"])[-1]
        raise BadInput(doing, f"a failure of {Path(command[0]).name}: {last}", "a database that answers",
                       "Look at KILTER_DATABASE and at the server.")  # fmt: skip
