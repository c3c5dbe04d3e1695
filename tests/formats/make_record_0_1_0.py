"""
Made record-0.1.0.zip and record-0.1.0.json: a backup of a small invented record, and what stood in it.

Run once, with the release that the names tell: KILTER_HOME=NEW_FOLDER python tests/formats/make_record_0_1_0.py. Keep
both files as they are; a later release gets files of its own.
"""

# ruff: noqa: E402  models can be imported only after Django is opened

from __future__ import annotations

import json
import sys
import zipfile
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "store"))

from kilter.store.start import start_store

start_store("kilter.store.settings")

from django.db import connection
from record_scene import first_person

from kilter.store.backup import MANIFEST, back_up
from kilter.store.check import check
from kilter.store.models import VisitEntry
from kilter.store.prepare import prepare
from kilter.store.verbs.boards import keep_board
from kilter.store.verbs.jobs import ask_for
from kilter.store.verbs.objects import edit_object
from kilter.store.verbs.people import erase_personal
from kilter.store.verbs.repairs import make_safe, record_repair
from kilter.store.verbs.statements import state, take_back
from kilter.store.verbs.visits import record_check, set_visit


def main() -> None:
    """Something in every table."""
    prepare().home.chmod(0o700)
    with connection.cursor() as cursor:  # small pages make a small file
        cursor.execute("PRAGMA journal_mode=DELETE")
        cursor.execute("PRAGMA page_size=512")
        cursor.execute("VACUUM")
    scene = first_person()
    repairer, recorder, registrar = scene.who("repairer"), scene.who("recorder"), scene.who("registrar")
    board = keep_board(repairer, "step", "Step computer", "board.toml", {"board.toml": b"kilter = 1\n"}).board
    one = scene.an_object(board=board, limits="an hour a day\nnever alone")
    one = edit_object(registrar, one, {"owner": "the town"}, "the deed was found")
    visit = scene.a_visit(one)
    for number, value in enumerate((1.524, float("inf"), -0.25, 1e-12)):
        scene.an_entry(visit, after=number, value=value, note="Größe Ω ✓")
    record_check(repairer, visit, "fuse fits", "passed")
    set_visit(repairer, visit, "closed", "evening")
    told = state(recorder, one, "history", "bought in 1984", source="label", reliability=0.3)
    take_back(recorder, told, "another machine's label")
    scene.a_file(one, b"front view")
    scene.a_piece(one)
    proposal = scene.a_proposal(one, grade=6)
    scene.agree(proposal, keeper="approver", conservator="approver 2")
    record_repair(repairer, one, "replaced", 6, "another one put in", part="R41", version=proposal.latest())
    make_safe(recorder, one, 6, "leaking battery cut out", part="BT1", removed={"words": "leaking", "original": False})
    ask_for(recorder, "sweep", {"board": "step"})
    erase_personal(scene.who("administrator"), scene.who("reader"), "asked for in a letter")
    found = check()
    assert found.wrong == ()
    copy = HERE / "copy"
    manifest = back_up(copy)
    with zipfile.ZipFile(HERE / "record-0.1.0.zip", "w", zipfile.ZIP_DEFLATED, compresslevel=9) as file:
        for name in (MANIFEST, *manifest["files"]):
            file.write(copy / name, name)
            (copy / name).unlink()
    for folder in sorted(copy.rglob("*"), reverse=True):
        folder.rmdir()
    copy.rmdir()
    values = list(VisitEntry.objects.order_by("pk").values_list("value", flat=True))
    expected = {"entries": found.entries, "head": found.head, "rows": found.rows, "files": found.files,
                "values": [str(one) for one in values]}  # fmt: skip
    (HERE / "record-0.1.0.json").write_text(json.dumps(expected, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    main()
