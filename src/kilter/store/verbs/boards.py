"""Keep what is known about a type of board: editions of a folder of files."""

from __future__ import annotations

import hashlib
import secrets
import shutil
from io import BytesIO
from pathlib import Path, PurePosixPath

from kilter.measure.errors import BadInput
from kilter.store.files import digest_of
from kilter.store.journal import now, write
from kilter.store.models import BoardEdition, BoardFile, KnownBoard, Person
from kilter.store.place import place
from kilter.store.verb import said, verb
from kilter.store.verbs.files import file_store, keep_content

KEEP = "keep a board"
DOING = "Cannot keep the board"
MOST_FILES, MOST_BYTES = 200, 64 << 20


@verb(KEEP)
def keep_board(actor: Person, key: str, title: str, main: str, files: dict[str, bytes], why: str = "") -> BoardEdition:
    """
    A new board, or a new edition of one. Whether the files make a board is for the caller to try first.

    Args:
        actor: A repairer or registrar.
        key: What the board is called in addresses, such as 'step-computer-2'.
        title: What people call it.
        main: Name of the file to load.
        files: Relative names, '/' between folders, to contents.
        why: What is new.

    Raises:
        BadInput: A name leads out of the folder, the main file is missing, or nothing differs from the last edition.
    """
    name = said(key, "key", 60, DOING, empty=False)
    if not all(sign.isascii() and (sign.isalnum() or sign in "-_") for sign in name):
        raise BadInput(DOING, f"the key '{name}'", "letters a to z, digits, - and _", "Choose another key.")
    _check_files(main, files)
    board = KnownBoard.objects.filter(key=name).first()
    digest = _digest(files)
    if board is None:
        board = KnownBoard.objects.create(key=name, at=now(), who=actor)
        rows: list[KnownBoard | BoardEdition | BoardFile] = [board]
        number = 1
    else:
        last = board.latest()
        if last.digest == digest:
            raise BadInput(DOING, f"what edition {last.edition} holds already", "something new", "Leave it as it is.")
        rows, number = [], last.edition + 1
    edition = BoardEdition.objects.create(
        board=board, edition=number, title=said(title, "title", 200, DOING, empty=False), main=main, digest=digest,
        why=said(why, "reason", 2000, DOING), at=now(), who=actor,
    )  # fmt: skip
    rows.append(edition)
    for path, content in sorted(files.items()):
        kept = keep_content(actor, BytesIO(content), "application/octet-stream")
        rows.append(BoardFile.objects.create(edition=edition, name=path, attachment=kept, at=now(), who=actor))
    write(actor.key, KEEP, f"board {name}", rows=rows, why=edition.why)
    return edition


def unpacked(edition: BoardEdition) -> Path:
    """
    The main file of an edition, in a folder with all its files; unpacked where that was not done yet.

    Raises:
        BadInput: A file is missing from the record's files.
    """
    folder = place().boards / edition.digest
    if not folder.is_dir():
        waiting = folder.with_name(f".coming-{secrets.token_hex(8)}")
        try:
            for one in edition.files.select_related("attachment"):
                target = waiting / one.name
                target.parent.mkdir(parents=True, exist_ok=True)
                with file_store().open(one.attachment.sha256) as source, target.open("wb") as file:
                    shutil.copyfileobj(source, file)
            if not folder.is_dir():
                waiting.rename(folder)
        finally:
            shutil.rmtree(waiting, ignore_errors=True)
    return folder / edition.main


def changed_files(edition: BoardEdition) -> tuple[str, ...]:
    """Unpacked files that are no longer what the record holds; deleting the folder makes it anew."""
    folder = place().boards / edition.digest
    rows = edition.files.select_related("attachment") if folder.is_dir() else ()
    return tuple(
        one.name
        for one in rows
        if not (folder / one.name).is_file() or digest_of(folder / one.name) != one.attachment.sha256
    )


def _check_files(main: str, files: dict[str, bytes]) -> None:
    for name in files:
        path = PurePosixPath(name)
        outside = path.is_absolute() or not path.parts or ".." in path.parts or "\\" in name or ":" in name
        if outside or len(name) > 200 or any(ord(sign) < 32 for sign in name):
            raise BadInput(DOING, f"a file called {name[:80]!r}", "a name within the board's folder", "Rename it.")
    if main not in files:
        raise BadInput(DOING, f"no file '{main}'", ", ".join(sorted(files)[:8]) or "files", "Name the file to load.")
    size = sum(map(len, files.values()))
    if len(files) > MOST_FILES or size > MOST_BYTES:
        raise BadInput(DOING, f"{len(files)} files of {size:,} bytes", f"{MOST_FILES} files of {MOST_BYTES:,} bytes",
                       "Leave out what the board file does not name.")  # fmt: skip


def _digest(files: dict[str, bytes]) -> str:
    whole = hashlib.sha256()
    for name, content in sorted(files.items()):
        whole.update(f"{name}\0{hashlib.sha256(content).hexdigest()}\n".encode())
    return whole.hexdigest()
