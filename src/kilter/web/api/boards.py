"""Known boards: list, look at, fetch their files, keep a new edition."""

from __future__ import annotations

import base64
import errno
from collections.abc import Mapping
from pathlib import PurePosixPath
from typing import Any

from django.http import FileResponse

from kilter.importers.load import load_board
from kilter.measure.errors import BadInput
from kilter.store.models import BoardEdition, KnownBoard
from kilter.store.verbs.boards import DOING, KEEP, MOST_FILES, keep_board
from kilter.web.api.fields import BY, NUMBER, TOLD, WHY, by
from kilter.web.api.files import handed_over
from kilter.web.api.found import board_at, edition_at
from kilter.web.api.operation import PAGING, PLACES, Call, Operation, looks, makes, rows_of, told
from kilter.web.api.records import Field, Record, may
from kilter.web.api.refusals import not_there
from kilter.web.api.shapes import CONTROL, Many, Text, Whole
from kilter.wiring.try_board import try_files

NAME = Text(200, rf"[^/\\:\n\r\t{CONTROL}]+(?:/[^/\\:\n\r\t{CONTROL}]+)*", "a name, '/' between folders")
MOST_BASE64 = 24_000_000
BASE64 = Text(MOST_BASE64, r"(?:[A-Za-z0-9+/]{4})*(?:[A-Za-z0-9+/]{2}==|[A-Za-z0-9+/]{3}=)?", "base64, RFC 4648",
              secret=True)  # fmt: skip
NO_FILE = frozenset({errno.ENAMETOOLONG, errno.EINVAL, errno.EISDIR, errno.ENOTDIR, errno.EEXIST, errno.EILSEQ})
"""What a system says to a name that it cannot write, as against a disk that fails."""
FILE = Record("BoardFile", {"name": TOLD, "size": Whole(), "sha256": TOLD})
EDITION = Record("BoardEdition", {
    "board": TOLD, "edition": NUMBER, "title": TOLD, "main": Field(TOLD, "the file that is loaded"),
    "digest": Field(TOLD, "SHA-256 over names and contents"), "why": TOLD, "files": Many(FILE), **BY,
})  # fmt: skip
BOARD = Record("Board", {"key": TOLD, "title": TOLD, "edition": NUMBER, "specimens": Whole()})
NEW_FILE = Record("NewBoardFile", {"name": NAME, "base64": Field(BASE64, "content")})
NEW = Record("NewBoard", {
    "key": Field(PLACES["board"].shape, "of a new board, or of one that gets a new edition"),
    "main": Field(NAME, "which of the files to load"), "files": Many(NEW_FILE, MOST_FILES),
    "title": may(Text(200), "the name in the board file unless given"), "why": may(WHY, "what is new"),
})  # fmt: skip


def tell_board(one: KnownBoard) -> dict[str, Any]:
    """A board as its latest edition has it."""
    latest = one.latest()
    return {"key": one.key, "title": latest.title, "edition": latest.edition, "specimens": one.specimens.count()}


def tell_edition(one: BoardEdition) -> dict[str, Any]:
    """An edition with its files."""
    rows = one.files.select_related("attachment").order_by("name")
    files = [{"name": each.name, "size": each.attachment.size, "sha256": each.attachment.sha256} for each in rows]
    names = ("edition", "title", "main", "digest", "why")
    return {"board": one.board.key, **{name: getattr(one, name) for name in names}, "files": files, **by(one)}


def _editions(call: Call) -> Any:
    return told(call, board_at(call).editions.select_related("board", "who").order_by("-edition"), tell_edition)


def _file(call: Call) -> FileResponse:
    row = edition_at(call).files.select_related("attachment").filter(name=call.query["name"]).first()
    if row is None:
        raise not_there("Cannot fetch the file", "no such file", "files of this edition")
    return handed_over(row.attachment, PurePosixPath(row.name).name)


def _keep(call: Call) -> Any:
    body = call.body
    files = {one["name"]: base64.b64decode(one["base64"]) for one in body["files"]}
    if len(files) < len(body["files"]) or body["main"] not in files:
        raise BadInput(DOING, f"{len(body['files'])} files, the main one called '{body['main']}'",
                       "names that differ, the main one among them", "Correct the names.")  # fmt: skip
    board = _tried(files, body["main"])
    edition = keep_board(call.actor, body["key"], body.get("title", "").strip() or board, body["main"], files,
                         body.get("why", ""))  # fmt: skip
    return tell_edition(edition)


def _tried(files: Mapping[str, bytes], main: str) -> str:
    """Name of the board that the files make."""
    try:
        return try_files(files, main, load_board).name
    except OSError as error:
        if error.errno not in NO_FILE:
            raise
        raise BadInput(DOING, f"names that cannot be written here ({error.strerror})", "names of files and folders",
                       "Choose shorter names, and none for both a file and a folder.") from None  # fmt: skip


ONE = "/boards/{board}"
OPERATIONS: tuple[Operation, ...] = (
    looks("list-boards", "/boards", "Boards that are known, by key.",
          lambda call: told(call, KnownBoard.objects.order_by("key"), tell_board), rows_of(BOARD), query=PAGING),
    makes("keep-board", "/boards", KEEP, "Keeps a board, or a new edition of one; files that make none are refused.",
          _keep, EDITION, NEW, most="board_bytes"),
    looks("get-board", ONE, "One board.", lambda call: tell_board(board_at(call)), BOARD),
    looks("list-board-editions", f"{ONE}/editions", "Its editions, the latest first.", _editions, rows_of(EDITION),
          query=PAGING),
    looks("get-board-edition", f"{ONE}/editions/{{edition}}", "One edition.",
          lambda call: tell_edition(edition_at(call)), EDITION),
    looks("fetch-board-file", f"{ONE}/editions/{{edition}}/file", "A file of an edition, as it was kept.", _file, None,
          query={"name": Field(NAME, "as the edition lists it")}),
)  # fmt: skip
