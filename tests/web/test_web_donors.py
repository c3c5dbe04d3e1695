"""
Spares and donors by the pages: what agreed proposals want is shared out of a brought list and the donor stock.

Which plan is best is worked out by hand beside each check; that nothing is done by a plan is seen by the journal.
"""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from web_world import World

from kilter.planning.numbers import number, numbers
from kilter.store.journal import head
from kilter.store.models import CollectionObject, Job
from kilter.store.verbs.proposals import propose
from kilter.wiring.worker import SHARE_OUT, work_off_one

WORK = {"act": "work", "grade": 4, "words": "a new one", "reason": "it drifted"}
COLLECTION = """
kilter = 1
[objects."HC 1"]
worth = 10
needs = { "4116" = 2, "6502" = 1 }
[objects."HC 2"]
worth = 9
needs = { "4116" = 1, "6502" = 1 }
[objects."HC 3"]
worth = 7
needs = { "6502" = 1, "74LS138" = 1 }
[objects."HC 4"]
worth = 6
needs = { "74LS138" = 1, "4116" = 1 }
"""
SHELF = "part,count,good\n4116,2,1\n6502,1,1\n74LS138,1,1\n"
"""
One processor: HC 1 alone is worth 10; HC 2 with HC 4, which needs no processor, is worth 15 and uses the same pieces.
The instance is that of 'greedy by worth takes 10, the best plan 15'.
"""


def shared(world: World, *, stock: str = "", collection: str = "") -> Any:
    """The finished job."""
    files: dict[str, Any] = {}
    if stock:
        files["stock"] = [SimpleUploadedFile("shelf.csv", stock.encode())]
    if collection:
        files["collection"] = SimpleUploadedFile("what.toml", collection.encode())
    answer = world.client("repairer").post("/donors/", files)
    assert answer.status_code == 302, answer.content.decode()[-3000:]
    job = Job.objects.filter(kind=SHARE_OUT).latest("pk")
    Job.objects.exclude(pk=job.pk).update(state="stopped")
    assert work_off_one("test")
    job.refresh_from_db()
    assert job.state == "done", job.words
    return job


def test_the_best_plan_is_not_the_greedy_one(world: World) -> None:
    pytest.importorskip("scipy", reason="the extra 'plan' is not installed")
    job = shared(world, stock=SHELF, collection=COLLECTION)
    assert [one["number"] for one in job.result["made"]] == ["HC 2", "HC 4"]
    shown = world.client("reader").get(f"/work/{job.pk}/").content.decode()
    assert "HC 4" in shown
    assert "waits" in shown
    assert "would have to wait" in shown  # what is otherwise lost
    assert shown.index("HC 2") < shown.index("HC 1 waits")


def test_agreed_proposals_and_donor_stock(world: World) -> None:
    """One resistor, one donor: its R1 is as good as it survives, and taking it out of an original place is grade 5."""
    pytest.importorskip("scipy", reason="the extra 'plan' is not installed")
    who = world.scene.who("repairer")
    propose(who, world.object, {**WORK, "part": "R1"})
    propose(who, world.other, {**WORK, "part": "belt"})  # on no board
    donor = world.scene.an_object("HC 0600", board=world.edition.board, accession="donor_stock")
    world.scene.an_object("HC 0601", board=world.edition.board)  # accessioned, and nobody proposed it
    page = world.client("repairer").get("/donors/").content.decode()
    assert "HC 0600" in page
    assert "HC 0601" not in page
    assert "&#x27;belt&#x27; is not on its board" in page or "'belt' is not on its board" in page
    before = head()
    job = shared(world)
    (made,) = job.result["made"]
    (piece,) = made["pieces"]
    assert (made["number"], piece["source"], piece["origin"]) == (world.object.number, "donor", donor.number)
    assert piece["grade"] == 5
    assert 0.5 < piece["good"] <= numbers("stock", "survives")["original"]
    assert made["chance"] == pytest.approx(piece["good"] * number("repair_options", "fitting"))
    assert [one["part"] for one in job.result["left_out"]] == ["belt"]
    assert head()[0] == before[0] + 1  # that somebody asked, and nothing else


def test_what_may_not_be_taken_apart_stays_whole(world: World) -> None:
    pytest.importorskip("scipy", reason="the extra 'plan' is not installed")
    who = world.scene.who("repairer")
    propose(who, world.object, {**WORK, "part": "R1"})
    accessioned = world.scene.an_object("HC 0600", board=world.edition.board)
    take = {"act": "take parts", "grade": 5, "part": "R1", "words": "for the other", "reason": "it is whole",
            "alternatives": "buy one", "undo": "it goes back", "receiver": world.object}  # fmt: skip
    propose(who, accessioned, take)
    job = shared(world, stock="part,count\n4116,1\n")
    assert job.result["made"] == []
    (refused,) = [one for one in job.result["refused"] if one["number"] == "HC 0600"]
    assert "keeper" in refused["missing_approvals"]


@pytest.mark.parametrize(("name", "text", "found"), [
    ("stock", b"colour\nred\n", "part"), ("collection", b"kilter = 9\n", "kilter = 1"),
    ("collection", b'kilter = 1\n[objects."HC 1"]\nboard = "/etc/hostname"\n', "a board or readings"),
    ("collection", b'kilter = 1\n[donors."HC 1"]\nboard = "../../secret.key"\n', "a board or readings"),
])  # fmt: skip
def test_lists_that_cannot_be_used(world: World, name: str, text: bytes, found: str) -> None:
    ending = "toml" if name == "collection" else "csv"
    answer = world.client("repairer").post("/donors/", {name: SimpleUploadedFile(f"a.{ending}", text)})
    assert answer.status_code == 400
    assert found in answer.content.decode()
    assert not Job.objects.filter(kind=SHARE_OUT).exists()


def test_other_files_are_not_taken(world: World) -> None:
    for name, file in (("stock", "a.exe"), ("collection", "a.csv")):
        answer = world.client("repairer").post("/donors/", {name: SimpleUploadedFile(file, b"x")})
        assert answer.status_code == 400
    assert CollectionObject.objects.exists()
