"""The bench session, driven through a pipe: nothing is lost, nothing is deleted, power waits for its checks."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from command_line import LADDER, Command

from kilter.importers.load import load_board
from kilter.measure.errors import BadInput
from kilter.wiring.visit_file import VisitFile


@pytest.fixture
def visit(tmp_path: Path) -> Path:
    return tmp_path / "visit.toml"


def entries(visit: Path) -> list[dict[str, object]]:
    found: list[dict[str, object]] = tomllib.loads(visit.read_text("utf-8")).get("entry", [])
    return found


def test_answers_are_kept_and_weighed(kilter: Command, visit: Path) -> None:
    """The volts of an open R3 by Ohm's law."""
    typed = "p A. Person\nr A 10.00 V @bench\nr B 10.00 V @bench\nw\nq\n"
    ran = kilter("bench", LADDER, "--visit", str(visit), typed=typed)
    assert ran.code == 0
    assert "R3" in ran.out.rsplit("SUSPECTS NOW", 1)[1].splitlines()[1]
    kinds = [(one["kind"], one["who"], one.get("value")) for one in entries(visit)]
    assert kinds == [
        ("power checks", "A. Person", None),
        ("reading", "A. Person", "10.00 V"),
        ("reading", "A. Person", "10.00 V"),
    ]


def test_visit_file_is_a_readings_file(kilter: Command, visit: Path) -> None:
    kilter("bench", LADDER, "--visit", str(visit), typed="p N\nr A 10.00 V @bench\nr B 10.00 V @bench\nq\n")
    found = kilter("diagnose", LADDER, "--readings", str(visit), "--json").json()
    assert found["suspects"][0]["part"] == "R3"


def test_answer_to_the_test_shown(kilter: Command, visit: Path) -> None:
    kilter("bench", LADDER, "--visit", str(visit), "--works", typed="OL\n")
    (entry,) = entries(visit)
    assert entry["value"] == "OL"
    assert entry["quantity"] == "resistance"
    assert entry["state"] == "off"


def test_undo_supersedes_and_never_deletes(kilter: Command, visit: Path) -> None:
    kilter("bench", LADDER, "--visit", str(visit), typed="r A 20k ohm @off\n")
    before = visit.read_bytes()
    ran = kilter("bench", LADDER, "--visit", str(visit), typed="u\nu\n")
    assert visit.read_bytes().startswith(before)
    assert entries(visit)[-1] | {"time": ""} == {"number": 2, "time": "", "kind": "undone", "entry": "1"}
    assert "nothing to undo" in ran.out
    assert VisitFile(visit, load_board(LADDER)).entries().readings() == ()


def test_powered_tests_wait_for_a_name(kilter: Command, visit: Path) -> None:
    ran = kilter("bench", LADDER, "--visit", str(visit), typed="l\nr A 5 V @bench\np\nl\n")
    assert "state 'bench' (" not in ran.out, "no powered test is listed"
    assert "before the power checks" in ran.out
    assert "no name" in ran.out
    assert not visit.exists()


def test_a_deed_closes_the_gate_again(kilter: Command, visit: Path) -> None:
    typed = "p N\nr A 10.00 V @bench\nd renewed R3\nr A 6.67 V @bench\n"
    ran = kilter("bench", LADDER, "--visit", str(visit), typed=typed)
    assert [one["kind"] for one in entries(visit)] == ["power checks", "reading", "reading"]
    assert "before the power checks" in ran.out


def test_skipped_test_is_not_offered_again(kilter: Command, visit: Path) -> None:
    ran = kilter("bench", LADDER, "--visit", str(visit), typed="s no access\nl\n")
    (entry,) = entries(visit)
    place = f"{entry['quantity']} at {entry['point']}"
    assert f"Skipped: {place}." in ran.out
    board = load_board(LADDER)
    assert VisitFile(visit, board).entries().skipped() == {(entry["point"], entry["quantity"], entry["state"])}


def test_doubt_is_recorded(kilter: Command, visit: Path) -> None:
    kilter("bench", LADDER, "--visit", str(visit), "--works", typed="18 kohm ?\n")
    assert entries(visit)[0]["doubtful"] == "yes"
    assert VisitFile(visit, load_board(LADDER)).entries().readings()[0].doubtful


@pytest.mark.parametrize("line", ["4x7", "r NOWHERE 3 V @bench", "r A", "d burnt R3", "d renewed R99", "d"])
def test_a_bad_line_is_explained_and_the_session_goes_on(kilter: Command, visit: Path, line: str) -> None:
    ran = kilter("bench", LADDER, "--visit", str(visit), typed=f"{line}\nr A 20 kohm @off\n")
    assert "Allowed:" in ran.out
    assert len(entries(visit)) == 1


def test_an_interrupt_loses_nothing(kilter: Command, visit: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Interrupted:
        lines = iter(["r A 20 kohm @off\n"])

        def isatty(self) -> bool:
            return False

        def readline(self) -> str:
            for line in self.lines:
                return line
            raise KeyboardInterrupt

    monkeypatch.setattr(
        "kilter.cli.bench.sys", type("Streams", (), {"stdin": Interrupted(), "stdout": __import__("sys").stdout})
    )
    assert kilter("bench", LADDER, "--visit", str(visit)).code == 0
    assert len(entries(visit)) == 1


def test_two_sessions_do_not_overwrite_each_other(visit: Path) -> None:
    board = load_board(LADDER)
    one, other = VisitFile(visit, board), VisitFile(visit, board)
    from kilter.services.visit_log import CHECKED, Entry

    one.keep(Entry(1, "", "N", CHECKED))
    with pytest.raises(BadInput, match="one session at a time"):
        other.keep(Entry(1, "", "M", CHECKED))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("visit = 1\nboard = 'Another'\n", "Another"),
        ("visit = 9\n", "visit = 9"),
        ("visit = 1\nboard = 'Ladder of three'\n[[entry]]\nnumber = 2\nkind = 'reading'\n", "number 2"),
        ("visit = 1\nboard = 'Ladder of three'\n[[entry]]\nnumber = 1\nkind = 'undone'\nentry = '7'\n", "'7'"),
        ("visit = 1\nboard = 'Ladder of three'\n[[entry]]\nnumber = 1\nkind = 'reading'\npoint = 'A'\n", "entry 1"),
        ("visit = 1\nboard = 'Ladder of three'\n[[entry]]\nnumber = 1\nkind = 'reading'\ncolour = 'A'\n", "colour"),
        ("visit = 1\nboard = 'Ladder of three'\nentry = 3\n", "entry"),
        ("visit = 1\nboard = 'Ladd", "TOML"),
    ],
)
def test_damaged_visit_file(kilter: Command, visit: Path, text: str, said: str) -> None:
    visit.write_text(text)
    ran = kilter("bench", LADDER, "--visit", str(visit))
    assert ran.code == 2
    assert said in ran.err
    assert visit.read_text() == text


def test_odd_words_survive_the_file(visit: Path) -> None:
    """Quotes, control characters and other scripts come back as they were; TOML 1.0 defines the escapes."""
    from kilter.services.visit_log import SKIPPED, Entry

    board = load_board(LADDER)
    words = {"point": "A", "quantity": "voltage", "state": "off", "note": 'a "b" \\ \t\n\x7f\x01 Ω 電'}
    file = VisitFile(visit, board)
    file.keep(Entry(1, "", "Zoë", SKIPPED, words))
    assert VisitFile(visit, board).entries().entries[0].words == words
