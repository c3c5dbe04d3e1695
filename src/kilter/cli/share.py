"""`kilter share`: counts, boards and known-good readings for other collections, and theirs, signed."""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
from collections.abc import Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from kilter.cli.layout import as_json, columns, heading, wrapped
from kilter.cli.record_home import keeper_of, place_options
from kilter.exporters.shared_files import write_boards, write_new, write_readings
from kilter.importers.shared_keys import read_private_key, read_shared_file, read_shared_keys
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.records.reading import Reading
from kilter.services.accept_shared import Sharer, accepted_body, changes, content_of
from kilter.services.experience import ACCEPTED, EXPORTED
from kilter.services.seal import new_key, opened, public_key, sealed
from kilter.services.share_experience import SharedBoard, shared_content
from kilter.services.wording import percent
from kilter.wiring.loading import load_board, load_readings
from kilter.wiring.shared_boards import board_for_others

HELP = "experience for other collections, and theirs, signed"
DESCRIPTION = (
    "Writes what this collection counted, its boards and its known-good readings into a signed file without any "
    "object, person or place; accepts such files of others with a trust weight, or refuses them with a reason."
)
DOING = "Cannot share"


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    kinds = parser.add_subparsers(title="what to do", metavar="WHAT", required=True)
    key = kinds.add_parser("key", help="make a key to sign with, or print the public half of one")
    key.add_argument("key", metavar="KEY", type=Path, help="file of the private key, made if new")
    write = kinds.add_parser("write", help="write a signed file for others")
    write.add_argument("--key", metavar="KEY", type=Path, help="file of the private key; in a record its own, "
                       "unless given")  # fmt: skip
    write.add_argument("--to", metavar="FILE", type=Path, required=True, help="the file to write; must be new")
    licences = table("sharing/limits")["licences"]["value"]
    write.add_argument("--licence", choices=licences, required=True, help="under which all of it is given away")
    write.add_argument("--board", metavar="BOARD", type=Path, help="a board file to share, or whose readings")
    write.add_argument("--title", metavar="TEXT", default="", help="what the board is called for others")
    write.add_argument("--known-good", metavar="FILE", type=Path, action="append", default=[],
                       help="readings of one good specimen of the board; may be repeated")  # fmt: skip
    show = kinds.add_parser("show", help="everything that is in a shared file")
    accept = kinds.add_parser("accept", help="accept a file of another collection")
    accept.add_argument(
        "--keys", metavar="KEYS", type=Path, help="list of keys with names and trust (TOML); in a record its own list "
        "unless given",
    )  # fmt: skip
    accept.add_argument("--boards-to", metavar="DIR", type=Path, help="write its boards and readings into this folder")
    for one in (show, accept):
        one.add_argument("file", metavar="FILE", type=Path, help="the shared file")
    for one in (write, accept):
        place_options(one)
        one.add_argument("--who", metavar="NAME", default="", help="who does it; the name stays here. In the record: "
                         "the login of a person who may")  # fmt: skip
    for one, what in {key: _key, write: _write, show: _show, accept: _accept}.items():
        one.set_defaults(share=what)
        one.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Does what was asked for."""
    code: int = chosen.share(chosen)
    return code


def _key(chosen: argparse.Namespace) -> int:
    if chosen.key.exists():
        public = public_key(read_private_key(chosen.key))
    else:
        pem, public = new_key()
        write_new(chosen.key, pem, secret=True)
        print("Keep this file to yourself: whoever has it can sign in your name.", file=sys.stderr)
        print("Give others the public key, in person.", file=sys.stderr)
    print(as_json({"public_key": public}) if chosen.json else public)
    return 0


def _write(chosen: argparse.Namespace) -> int:
    file = keeper_of(chosen, DOING)
    pem = read_private_key(_key_file(chosen))
    public, experience = public_key(pem), file.read()
    boards, known_good, left_out = _board(chosen)
    today = datetime.now(UTC).date()
    content = shared_content(experience, public, today, chosen.licence, boards, known_good)
    told = json.loads(content)
    write_new(chosen.to, sealed(content, pem))
    body = {"key": public, "sequence": told["sequence"], "sha256": hashlib.sha256(content).hexdigest()}
    file.add(experience, EXPORTED, body, who=chosen.who)
    if left_out:
        print(wrapped(f"Stays here: {', '.join(left_out)}.", hang=2), file=sys.stderr)
    print("Look through the file before you send it: 'kilter share show'.", file=sys.stderr)
    print(as_json(body) if chosen.json else f"{chosen.to}: number {told['sequence']}, {_contents(told)}.")
    return 0


def _board(
    chosen: argparse.Namespace,
) -> tuple[list[SharedBoard], list[tuple[str, Sequence[Reading]]], tuple[str, ...]]:
    if chosen.board is None:
        if chosen.title or chosen.known_good:
            raise BadInput("Cannot share", "a title or readings without their board", "--board with them",
                           "Name the board file.")  # fmt: skip
        return [], [], ()
    loaded = load_board(chosen.board)  # whatever is wrong with it is said here
    one = board_for_others(chosen.board, chosen.title)
    known_good: list[tuple[str, Sequence[Reading]]] = []
    known_good += [(one.digest, load_readings(path, loaded)) for path in chosen.known_good]
    return [one], known_good, one.left_out


def _show(chosen: argparse.Namespace) -> int:
    doing = f"Cannot show {chosen.file.name}"
    one = opened(read_shared_file(chosen.file), doing)
    content = content_of(one, doing)
    if chosen.json:
        print(as_json({"key": one.key, **content}))
        return 0
    print(f"Signed by the key {one.key}; who holds that key, the file cannot say.")
    print(one.content.decode("utf-8"), end="")
    return 0


def _accept(chosen: argparse.Namespace) -> int:
    file = keeper_of(chosen, DOING)
    experience = file.read()
    own = [str(one.body["key"]) for one in experience.entries if one.kind == EXPORTED]
    sharers = _sharers(chosen)
    body = accepted_body(read_shared_file(chosen.file), sharers, experience, _today(), own_keys=own)
    moved = changes(experience, body)
    if chosen.boards_to:
        for path in (*write_boards(chosen.boards_to, body, body["name"]), *write_readings(chosen.boards_to, body)):
            print(f"Written: {path}", file=sys.stderr)
    entry = file.add(experience, ACCEPTED, body, who=chosen.who)
    if chosen.json:
        rows = [{"kind": one.kind, "before": one.before, "after": one.after} for one in moved]
        print(as_json({"number": entry.number, "name": body["name"], "sequence": body["sequence"],
                       "trust": body["trust"], "licence": body["licence"], "changes": rows}))  # fmt: skip
        return 0
    print(
        f"Entry {entry.number}: {body['name']}, number {body['sequence']}, trust {body['trust']:g}, {_contents(body)}."
    )
    if moved:
        print(heading("odds that it moves"))
        print(columns([("kind", "before", "after"), *((m.kind, percent(m.before), percent(m.after)) for m in moved)]))
    where = f"--experience {chosen.experience}" if chosen.experience else f"--home {chosen.home} --who {chosen.who}"
    print(f"To let it count no longer: kilter learn withdraw {entry.number} --why ... {where}")
    return 0


def _key_file(chosen: argparse.Namespace) -> Path:
    """The private key that is named; in a record its own where none is."""
    if chosen.key is not None:
        return Path(chosen.key)
    if chosen.experience is None:
        from kilter.wiring.record_sharing import key_path

        return key_path()
    raise BadInput(DOING, "no key to sign with", "--key with an experience file", "Name the file of the private key.")


def _sharers(chosen: argparse.Namespace) -> tuple[Sharer, ...]:
    """The list of keys that is named; in a record its own where none is."""
    if chosen.keys is not None:
        return read_shared_keys(chosen.keys)
    if chosen.experience is None:
        from kilter.wiring.record_sharing import known_sharers

        return known_sharers()
    raise BadInput("Cannot accept the shared file", "no list of keys", "--keys with an experience file",
                   "Name the list of the keys that you were given.")  # fmt: skip


def _today() -> date:
    return datetime.now(UTC).date()


def _contents(content: dict[str, Any]) -> str:
    return (
        f"{len(content['counts'])} counts, {len(content['boards'])} boards, "
        f"{len(content['known_good'])} sets of known-good readings"
    )
