"""
Shared files: nothing of an object, person or place goes out; forged, altered and replayed files are refused, with why.

Strings are planted wherever a person may write and looked for in every byte that leaves. The signature is checked with
the library's own verifier and against the worked example TEST 2 of RFC 8032, section 7.1 (written from memory; the
library must agree with it).
"""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from kilter.cli.main import run
from kilter.diagnose.learned_odds import learned, number
from kilter.diagnose.learned_odds_counts import Count
from kilter.importers.load import load_board
from kilter.importers.shared_keys import read_shared_keys
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.parts.kinds import part_kind
from kilter.records.reading import Reading
from kilter.services.accept_shared import Sharer, accepted_body, changes
from kilter.services.experience import ACCEPTED, COUNTS, EXPORTED, VISIT, WITHDRAWN, Entry, Experience, plain_counts
from kilter.services.seal import MEANT_FOR, new_key, opened, public_key, sealed
from kilter.services.share_experience import shareable_board, shareable_readings, shared_content, told_counts
from kilter.services.shared_fields import BOARD, FILE, first_wrong
from kilter.services.shared_netlist import bare_netlist

pytest.importorskip("cryptography")

PLANTED = ("Zylphine", "Quorvath", "PLANT-4711", "Mirrowick")
"""A person, a house, an object's number and a town that nobody has."""
TODAY = date(2026, 5, 1)
PEM, KEY = new_key()


def told(*counts: Count) -> Experience:
    return Experience(
        (Entry(1, "", PLANTED[0], COUNTS, {"counts": plain_counts(counts), "file": f"{PLANTED[2]}.csv"}),)
    )


KNOWN = told(Count("electrolytic", "40-50", 300, {"leak": 40, "unknown": 2}, 9), Count("logic", "", 90, {"dead": 1}, 9))


def shared(experience: Experience = KNOWN, *, today: date = TODAY, pem: bytes = PEM) -> bytes:
    return sealed(shared_content(experience, public_key(pem), today, "CC0-1.0"), pem)


def accept(data: bytes, before: Experience | None = None, *, today: date = TODAY, trust: float = 0.5) -> dict[str, Any]:
    return accepted_body(data, [Sharer("friends", KEY, trust)], before or Experience(), today)


def signed(change: Any, pem: bytes = PEM) -> bytes:
    """A file whose holder signed something else than Kilter would have written."""
    content = json.loads(opened(shared(), "").content)
    change(content)
    return sealed(json.dumps(content).encode(), pem)


def circuit(line: str) -> dict[str, Any]:
    """A board whose netlist has this line."""
    return {"title": "x", "revision": "", "licence": "CC0-1.0", "digest": "0" * 64, "board": {}, "netlist": line}


def known_good(**changed: Any) -> dict[str, Any]:
    """One reading of a known-good board, with something changed."""
    row = {"point": "A", "quantity": "voltage", "value": 1.0, **changed}
    return {"board": "0" * 64, "licence": "CC0-1.0", "readings": [row]}


def test_the_library_is_that_of_the_standard() -> None:
    """RFC 8032, 7.1, TEST 2: one byte 72 signed by a given secret key."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    secret = bytes.fromhex("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb")
    key = Ed25519PrivateKey.from_private_bytes(secret)
    public = "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c"
    signature = (
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
    )
    assert key.public_key().public_bytes_raw().hex() == public
    assert key.sign(b"\x72").hex() == signature


def test_our_seal_is_verified_by_the_library_alone() -> None:
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    head, _, content = shared().partition(b"\n")
    found = json.loads(head)
    key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(found["key"]))
    key.verify(bytes.fromhex(found["signature"]), MEANT_FOR + content)  # raises if it does not fit


def test_accepted_counts_move_the_odds_by_their_trust_and_can_be_withdrawn() -> None:
    body = accept(shared(), trust=0.25)
    here = Experience((Entry(1, "", "", ACCEPTED, body),))
    found = learned("electrolytic", here.weighted()).odds
    a, p = number("prior_failures"), part_kind("electrolytic").odds
    assert found == pytest.approx((a + 0.25 * 42) / (a / p + 0.25 * 300))
    assert [one.kind for one in changes(Experience(), body)] == ["electrolytic"]
    gone = Experience((*here.entries, Entry(2, "", "", WITHDRAWN, here.withdrawal(1, "counted otherwise"))))
    assert learned("electrolytic", gone.weighted()).odds == pytest.approx(p)


def test_the_newest_file_of_a_key_takes_the_place_of_the_older() -> None:
    first = accept(shared())
    here = Experience((Entry(1, "", "", ACCEPTED, first),))
    exported = Entry(2, "", "", EXPORTED, {"key": KEY, "sequence": 1, "sha256": ""})
    more = Experience((*told(Count("electrolytic", "", 400, {"leak": 50}, 12)).entries, exported))
    second = accept(shared(more), here)
    both = Experience((*here.entries, Entry(2, "", "", ACCEPTED, second)))
    assert sum(one.count.parts for one in both.weighted()) == 400


def test_what_was_accepted_is_never_passed_on() -> None:
    other = accept(shared(told(Count("tantalum", "", 70, {"short": 9}, 5))))
    here = Experience((*KNOWN.entries, Entry(2, "", "", ACCEPTED, other)))
    content = json.loads(opened(shared(here), "").content)
    assert {row["kind"] for row in content["counts"]} == {"electrolytic", "logic"}


@pytest.mark.parametrize("place", [10, 90, 250, -40, -3])
def test_an_altered_file_is_refused(place: int) -> None:
    data = bytearray(shared())
    data[place] ^= 1
    with pytest.raises(BadInput, match=r"altered|no seal|unknown key"):
        accept(bytes(data))


def test_every_altered_number_is_refused() -> None:
    data = shared()
    for old, new in ((b'"parts": 300', b'"parts": 301'), (b'"sequence": 1', b'"sequence": 2'), (b"2026", b"2027")):
        assert old in data
        with pytest.raises(BadInput, match="altered after it was signed, or forged"):
            accept(data.replace(old, new))


def test_a_forged_file_is_refused() -> None:
    other, _ = new_key()
    pretended = json.loads(shared().partition(b"\n")[0])
    forged = sealed(opened(shared(), "").content, other)
    head = {**json.loads(forged.partition(b"\n")[0]), "key": pretended["key"]}
    with pytest.raises(BadInput, match="forged"):
        accept(json.dumps(head).encode() + b"\n" + forged.partition(b"\n")[2])
    with pytest.raises(BadInput, match="unknown key"):
        accept(forged)


def test_a_replayed_file_is_refused_even_after_it_was_withdrawn() -> None:
    data = shared()
    here = Experience((Entry(1, "", "", ACCEPTED, accept(data)), Entry(2, "", "", WITHDRAWN, {"entry": 1, "why": "x"})))
    with pytest.raises(BadInput, match="accepted before"):
        accept(data, here)
    older = signed(lambda content: content.update(licence="CC-BY-4.0"))
    with pytest.raises(BadInput, match="older than what was accepted"):
        accept(older, here)


def test_files_out_of_date_are_refused() -> None:
    days = int(table("sharing/limits")["valid_days"]["value"])
    assert accept(shared(), today=TODAY + timedelta(days=days))
    with pytest.raises(BadInput, match="ran out"):
        accept(shared(), today=TODAY + timedelta(days=days + 1))
    with pytest.raises(BadInput, match="date of issue"):
        accept(shared(), today=TODAY - timedelta(days=10))
    endless = signed(lambda content: content.update(expires="9999-12-31"))
    with pytest.raises(BadInput, match="ran out"):
        accept(endless, today=TODAY + timedelta(days=days + 1))


def test_a_file_of_our_own_is_refused() -> None:
    with pytest.raises(BadInput, match="signed itself"):
        accepted_body(shared(), [Sharer("us", KEY, 1.0)], Experience(), TODAY, own_keys=[KEY])


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda c: c.update(place="Mirrowick"), "a field 'place'"),
        (lambda c: c["counts"][0].update(object="PLANT-4711"), "a field 'object'"),
        (lambda c: c["counts"][0]["failures"].update(leak=301), "301 at|303 failures among 300 parts"),
        (lambda c: c["counts"][0].update(parts=-1), "-1 at the file, counts, 1, parts"),
        (lambda c: c["counts"][0].update(parts=1.5), "1.5 at"),
        (lambda c: c["counts"][0].update(parts=True), "True at"),
        (lambda c: c["counts"][0].update(kind="flux"), "part kind 'flux'"),
        (lambda c: c["counts"][0].pop("parts"), "kind, band, parts"),
        (lambda c: c.pop("counts"), "no counts"),
        (lambda c: c.update(licence="all rights reserved"), "all rights reserved"),
        (lambda c: c.update(issued="yesterday"), "yesterday"),
        (lambda c: c.update(boards=[{"title": "x"}]), "lacks a field"),
        (lambda c: c.update(known_good=[{"board": "0" * 64}]), "lack a field"),
        (lambda c: c["counts"][0].update(parts=10**400), "counts, 1, parts"),
        (lambda c: c.update(boards=[circuit(".include /etc/passwd")]), "netlist"),
        (lambda c: c.update(boards=[circuit(".control\nshell date\n.endc")]), "netlist"),
        (lambda c: c.update(known_good=[known_good(quantity="mood")]), "mood"),
        (lambda c: c.update(known_good=[known_good(instrument="rod")]), "rod"),
        (lambda c: c.update(known_good=[known_good(value=None)]), "value"),
    ],
)
def test_what_a_holder_of_a_known_key_may_not_sign(change: Any, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        accept(signed(change))


@pytest.mark.parametrize("left", [0.999, 0.9, 0.5, 0.1, 0.01])
def test_a_truncated_file_is_refused(left: float) -> None:
    data = shared()
    with pytest.raises(BadInput, match=r"altered|no seal"):
        accept(data[: int(left * len(data))])


def test_a_signed_file_that_may_not_be_is_not_shown(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name, data in (("text", sealed(b"[1, 2", PEM)), ("field", signed(lambda c: c.update(place="Mirrowick")))):
        path = tmp_path / name
        path.write_bytes(data)
        assert run(["share", "show", str(path)]) == 2
        assert "Cannot show" in capsys.readouterr().err


@pytest.mark.parametrize("data", [b"", b"\n", b"{}\n{}", b"[]\n", b"\xff\xfe", b'{"kilter_shared": 1}\n', b"0" * 200])
def test_files_without_a_seal(data: bytes) -> None:
    with pytest.raises(BadInput, match="no seal"):
        accept(data)


def test_a_signed_file_that_is_no_plain_data() -> None:
    for content in (b"\xff", b"[1, 2]", b'{"sequence": NaN}', b'{"a": 1, "a": 2}', b"[" * 100_000):
        with pytest.raises(BadInput, match="Cannot accept"):
            accept(sealed(content, PEM))


def test_few_objects_are_told_without_age_or_not_at_all() -> None:
    counts = [Count("led", "20-30", 4, {}, 1), Count("led", "40-50", 50, {}, 7), Count("led", "70+", 9, {}, 3)]
    found = told_counts(counts)
    assert all(one.objects >= 3 for one in found)
    assert sum(one.parts for one in found) == 63
    assert {one.band for one in found} == {"", "40-50"}  # the smallest large band hides the single object
    assert told_counts([Count("valve", "70+", 5, {"dim": 5}, 2)]) == []


BOARD_FILE = """kilter = 1
board = "Desk of Zylphine"
revision = "B"
netlist = "PLANT-4711.cir"
[parts.C1]
kind = "electrolytic"
notes = ["bought by Zylphine in Mirrowick"]
[points.A]
net = "a"
label = "below the Quorvath label"
[states.off]
powered = false
label = "on the bench of Zylphine"
[states.on]
powered = true
[object]
chassis = "live"
remarks = ["stands in Mirrowick"]
[history]
labels = [{ says = "C1", reliability = 0.3, text = "Quorvath: dead" }]
"""
NETLIST = """Desk PLANT-4711 of Quorvath
* drawn by Zylphine
V1 v 0 10
R1 v a 10k ; from Mirrowick
C1 a 0 10u $ Zylphine
.title Quorvath
.print tran v(a) Zylphine
+ Mirrowick
.control
write /home/zylphine/PLANT-4711.raw
.endc
.end
Lent by Quorvath
"""


@pytest.fixture
def house(tmp_path: Path) -> Path:
    (tmp_path / "PLANT-4711.toml").write_text(f"# Zylphine\n{BOARD_FILE}", "utf-8")
    (tmp_path / "PLANT-4711.cir").write_text(NETLIST, "utf-8")
    rows = 'point,quantity,value,state,note,who,time\na,voltage,9.99 V,on,"Quorvath",Zylphine,2026-01-02T10:00:00Z\n'
    (tmp_path / "Zylphine.csv").write_text(rows, "utf-8")
    counts = "kind,age,parts,objects,failures\nelectrolytic,41,300,9,leak:40\n"
    (tmp_path / "Mirrowick.csv").write_text(counts, "utf-8")
    (tmp_path / "keys.toml").write_text(f'[keys.us]\nkey = "{KEY}"\ntrust = 0.5\n', "utf-8")
    (tmp_path / "key.pem").write_bytes(PEM)
    return tmp_path


def write(house: Path, *more: str) -> int:
    first = [
        "share",
        "write",
        "--key",
        str(house / "key.pem"),
        "--to",
        str(house / "out.kilter"),
        "--licence",
        "CC0-1.0",
    ]
    return run([*first, "--experience", str(house / "Quorvath.jsonl"), *more])


def test_nothing_planted_leaves(house: Path, capsys: pytest.CaptureFixture[str]) -> None:
    experience = house / "Quorvath.jsonl"
    learn = ["learn", "counts", str(house / "Mirrowick.csv"), "--experience", str(experience), "--who", "Zylphine"]
    assert run(learn) == 0
    board = str(house / "PLANT-4711.toml")
    assert write(house, "--board", board, "--title", "Test desk", "--known-good", str(house / "Zylphine.csv")) == 0
    data = (house / "out.kilter").read_bytes()
    held = experience.read_text("utf-8") + (house / "PLANT-4711.toml").read_text("utf-8") + NETLIST
    for planted in PLANTED:
        assert planted in held  # it was there to be leaked
        assert planted.lower().encode() not in data.lower()
    content = json.loads(opened(data, "").content)
    assert first_wrong(content, FILE, "the file") == ""
    assert content["boards"][0]["board"]["object"] == {"chassis": "live"}  # a warning is never left out
    assert [row["failures"] for row in content["counts"]] == [{"leak": 40}]
    capsys.readouterr()


def test_a_board_comes_through_whole(house: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    board = house / "PLANT-4711.toml"
    assert write(house, "--board", str(board), "--title", "Test desk", "--known-good", str(house / "Zylphine.csv")) == 0
    there = tmp_path / "there"
    there.mkdir()
    accepted = ["share", "accept", str(house / "out.kilter"), "--keys", str(house / "keys.toml")]
    assert run([*accepted, "--experience", str(there / "e.jsonl"), "--boards-to", str(there)]) == 0
    ours, theirs = load_board(board), load_board(next(there.glob("*.toml")))
    assert dict(theirs.elements) == dict(ours.elements)
    assert {ref: (p.kind, dict(p.pins), p.number) for ref, p in theirs.parts.items()} == {
        ref: (p.kind, dict(p.pins), p.number) for ref, p in ours.parts.items()
    }
    assert theirs.chassis == "live"
    assert next(there.glob("known-good-*.csv")).read_text("utf-8").splitlines()[1].startswith("A,voltage,9.99 V,")
    before = {path: path.read_bytes() for path in there.iterdir()}
    assert run([*accepted, "--experience", str(there / "e.jsonl"), "--boards-to", str(there)]) == 2
    assert "accepted before" in capsys.readouterr().err
    assert {path: path.read_bytes() for path in there.iterdir()} == before


def test_nothing_is_overwritten(house: Path, capsys: pytest.CaptureFixture[str]) -> None:
    board = ["--board", str(house / "PLANT-4711.toml"), "--title", "Test desk"]
    assert write(house, *board) == 0
    before = (house / "out.kilter").read_bytes()
    assert write(house, *board) == 2
    assert (house / "out.kilter").read_bytes() == before
    assert "nothing is overwritten" in capsys.readouterr().err


def test_a_made_key_is_its_owners_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["share", "key", str(tmp_path / "new.pem")]) == 0
    first = capsys.readouterr().out
    assert (tmp_path / "new.pem").stat().st_mode & 0o077 == 0
    assert run(["share", "key", str(tmp_path / "new.pem")]) == 0
    assert capsys.readouterr().out == first


def test_every_field_of_a_board_that_is_not_listed_stays() -> None:
    file = {"kilter": 1, "parts": {"R1": {"kind": "resistor", "notes": ["x"], "future": 1}}, "mood": "good"}
    one = shareable_board(file, "", "T")
    assert one.board == {"kilter": 1, "parts": {"R1": {"kind": "resistor"}}}
    assert set(one.left_out) == {"mood", "parts.*.notes", "parts.*.future"}
    assert {"history", "notes", "label", "remarks"}.isdisjoint(BOARD)


def test_sentences_do_not_fit_into_names() -> None:
    sentence = "lent by somebody, to be given back before the fair in June"
    row = {"point": sentence, "quantity": "voltage", "value": 1.0}
    wrong = {"sequence": 1, "known_good": [{"board": "0" * 64, "licence": "CC0-1.0", "readings": [row]}]}
    assert "known_good, 1, readings, 1, point" in first_wrong(wrong, FILE, "the file")


def test_readings_go_out_without_time_person_or_note() -> None:
    reading = Reading("TP1", "voltage", 5.0, uncertainty=0.01, state="on", time="2026", who="Zylphine", note="Quorvath")
    assert shareable_readings([reading]) == [
        {"point": "TP1", "quantity": "voltage", "value": 5.0, "uncertainty": 0.01, "state": "on"}
    ]


def test_netlists_in_several_files_are_not_shared() -> None:
    with pytest.raises(BadInput, match="one file"):
        bare_netlist("t\n.include other.lib\n.end\n")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('[keys.a]\nkey = "12"\ntrust = 0.5\n', "64 hexadecimal"),
        (f'[keys.a]\nkey = "{KEY}"\ntrust = 1.5\n', "from 0 to 1"),
        (f'[keys.a]\nkey = "{KEY}"\n', "from 0 to 1"),
        (f'[keys.a]\nkey = "{KEY}"\ntrust = 1\n[keys.b]\nkey = "{KEY}"\ntrust = 0\n', "each key once"),
    ],
    ids=["a short key", "too much trust", "no trust", "one key twice"],
)
def test_lists_of_keys_that_cannot_be(tmp_path: Path, text: str, words: str) -> None:
    (tmp_path / "keys.toml").write_text(text, "utf-8")
    with pytest.raises(BadInput, match=words):
        read_shared_keys(tmp_path / "keys.toml")


def test_visits_count_one_object_for_each_kind() -> None:
    body = {"counts": plain_counts([Count("led", "", 2, {}, 0), Count("led", "20-30", 5, {}, 1)])}
    here = Experience(tuple(Entry(n, "", "", VISIT, body) for n in range(1, 4)))
    assert told_counts(list(here.own())) == [Count("led", "", 21, {}, 3)]
