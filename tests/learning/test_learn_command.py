"""
`kilter learn` at the command line: a visit that is known to its end teaches, one that is not does not, nothing is lost.

How many parts of which kind had failed is counted here by hand from the board and from what the visit says.
"""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any

import pytest

from kilter.cli.main import run
from kilter.diagnose.cost import Effort
from kilter.diagnose.learned_odds import number
from kilter.diagnose.stop import repairs_of
from kilter.importers.failure_counts import read_counts
from kilter.importers.load import load_board
from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.parts.kinds import part_kind
from kilter.records.reading import Reading
from kilter.services.diagnose import Diagnoser
from kilter.services.learn_times import Pace, Times, effort_of, paces, times_of
from kilter.simulate.chain import usual_chain
from kilter.wiring.diagnosers import diagnoser
from kilter.wiring.experience_file import ExperienceFile
from kilter.wiring.visit_file import VisitFile

CIRCUIT = """* two dividers
V1 v 0 10
R1 v a 10k
R2 a 0 10k
C1 a 0 10u
.end
"""
BOARD = """kilter = 1
board = "Two dividers"
netlist = "board.cir"
[parts.C1]
kind = "electrolytic"
original = false
"""
VISIT = """# A visit at the bench. Entries are only ever added; an undo is an entry of its own.
visit = 1
board = "Two dividers"
"""


def entry(number: int, minute: float, **words: str) -> str:
    stamp = f"2026-03-01T10:{int(minute):02d}:{int(minute % 1 * 60):02d}+00:00"
    lines = [f'[[entry]]\nnumber = {number}\ntime = "{stamp}"\nwho = "Planted Person"\nkind = "reading"']
    return "\n".join([*lines, *(f'{key} = "{word}"' for key, word in words.items()), ""])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "board.toml").write_text(BOARD, "utf-8")
    (tmp_path / "board.cir").write_text(CIRCUIT, "utf-8")
    readings = [("v", "10.2 kohm"), ("a", "210 ohm"), ("a", "205 ohm")]
    text = VISIT + "".join(
        entry(n, minute, point=part, quantity="resistance", value=value, state="off")
        for (n, (part, value)), minute in zip(enumerate(readings, 1), (0.0, 1.5, 4.0), strict=True)
    )
    text += entry(4, 30.0, point="C1", quantity="done", value="renewed")
    (tmp_path / "visit.toml").write_text(text, "utf-8")
    return tmp_path


def learn(folder: Path, *words: str, code: int = 0, capsys: Any) -> Any:
    capsys.readouterr()
    assert run(["learn", *words, "--experience", str(folder / "known.jsonl"), "--json"]) == code
    out = capsys.readouterr().out
    return json.loads(out) if out else None


def visit(folder: Path, *more: str) -> list[str]:
    return ["visit", str(folder / "board.toml"), str(folder / "visit.toml"), *more]


def test_a_visit_with_a_known_outcome_teaches(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    body = learn(folder, *visit(folder, "--found", "C1:leak", "--works", "--age", "43"), capsys=capsys)["body"]
    by_kind = {row["kind"]: row for row in body["counts"]}
    assert by_kind["resistor"] == {"kind": "resistor", "band": "40-50", "parts": 2, "failures": {}, "objects": 1}
    assert by_kind["electrolytic"]["failures"] == {"leak": 1}
    assert by_kind["electrolytic"]["band"] == ""  # C1 is not the one that left the factory: nobody knows its age
    assert body["minutes"] == {"resistance": [1.5, 2.5]}
    assert (body["setups"], body["repairs"]) == ([], {"later": [26.0]})  # C1 renewed at 10:30, last read at 10:04
    assert sum(so for _, so in body["calls"]) == 1
    assert all(0 <= p <= 1 for p, _ in body["calls"])
    odds = learn(folder, "odds", capsys=capsys)["kinds"]
    (found,) = (row for row in odds if row["kind"] == "electrolytic")
    a, p = number("prior_failures"), part_kind("electrolytic").odds
    assert found["odds"] == pytest.approx((a + 1) / (a / p + 1))
    assert [one["source"] for one in found["changed_by"]] == ["this collection"]
    times = learn(folder, "times", capsys=capsys)["times"]
    assert [(row["what"], row["times"]) for row in times] == [("resistance", 2), ("replacing a part, later", 1)]


def test_an_object_that_does_not_work_teaches_no_odds(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    body = learn(folder, *visit(folder, "--found", "C1", "--still-broken"), code=3, capsys=capsys)["body"]
    assert (body["counts"], body["calls"]) == ([], [])
    assert body["minutes"]


def test_a_visit_teaches_once_and_may_be_corrected(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    learn(folder, *visit(folder, "--found", "R1:open", "--works"), capsys=capsys)
    before = (folder / "known.jsonl").read_bytes()
    assert learn(folder, *visit(folder, "--found", "C1:leak", "--works"), code=2, capsys=capsys) is None
    learn(folder, "withdraw", "1", "--why", "wrong part noted", capsys=capsys)
    learn(folder, *visit(folder, "--found", "C1:leak", "--works"), capsys=capsys)
    assert (folder / "known.jsonl").read_bytes().startswith(before)
    shown = learn(folder, "show", capsys=capsys)["entries"]
    assert [(one["kind"], one["stands"]) for one in shown] == [("visit", False), ("withdrawn", True), ("visit", True)]
    learn(folder, "withdraw", "3", "--why", "second thoughts", capsys=capsys)
    learn(folder, "withdraw", "4", "--why", "it was right", capsys=capsys)
    stands = [one["stands"] for one in learn(folder, "show", capsys=capsys)["entries"]]
    assert stands == [False, True, True, False, True]


def test_learned_odds_move_a_diagnosis(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    counts = folder / "counts.csv"
    counts.write_text("kind,age,parts,objects,failures\nresistor,,400,40,open:80\n", "utf-8")
    board = ["diagnose", str(folder / "board.toml"), "--readings", str(folder / "visit.toml"), "--json"]
    learn(folder, "counts", str(counts), capsys=capsys)

    def share(*more: str) -> float:
        capsys.readouterr()
        run([*board, *more])
        found = json.loads(capsys.readouterr().out)["suspects"]
        return sum(float(one["probability"]) for one in found if one["part"].startswith("R"))

    called = [[0.9, True], [0.9, False], [0.02, False], [0.02, False]]
    file = ExperienceFile(folder / "seen.jsonl")
    for visit_number in range(20):
        file.add(file.read(), "visit", {"visit": str(visit_number), "counts": [], "calls": called}, who="")
    capsys.readouterr()
    run([*board, "--experience", str(folder / "seen.jsonl")])
    record = json.loads(capsys.readouterr().out)["track_record"]
    assert record["visits"] == 20
    assert record["helps"]  # half of what was called 90 % was so
    with_it = share("--experience", str(folder / "known.jsonl"))
    assert with_it > share()


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--found", "C9", "--works"], "the part 'C9'"),
        (["--found", "C1:melted", "--works"], "the mode 'melted'"),
        (["--found", "C1", "--found", "none", "--works"], "'none' alone"),
        (["--found", "C1", "--works", "--age", "-4"], "-4"),
    ],
)
def test_outcomes_that_cannot_be(folder: Path, more: list[str], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["learn", *visit(folder, *more), "--experience", str(folder / "known.jsonl")]) == 2
    assert words in capsys.readouterr().err
    assert not (folder / "known.jsonl").exists()


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (lambda text: text.replace("leak", "open", 1), "changed or missing line"),
        (lambda text: "\n".join([*text.splitlines()[:1], *text.splitlines()[2:], ""]), "changed or missing line"),
        (lambda text: text + "{", "no JSON object"),
        (lambda text: text.replace("kilter_experience", "other", 1), "another first line"),
    ],
)
def test_a_damaged_experience_file_is_refused(
    folder: Path, damage: Any, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    learn(folder, *visit(folder, "--found", "C1:leak", "--works"), capsys=capsys)
    learn(folder, "withdraw", "1", "--why", "a test", capsys=capsys)
    path = folder / "known.jsonl"
    path.write_text(damage(path.read_text("utf-8")), "utf-8")
    assert run(["learn", "show", "--experience", str(path)]) == 2
    assert words in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("kind,age\nresistor,3\n", "the columns age, kind"),
        ("kind,age,parts,objects,failures\n", "no line of counts"),
        ("kind,age,parts,objects,failures\nresistor,,5,1,open:9\n", "line 2: found 9 failures among 5 parts"),
        ("kind,age,parts,objects,failures\nresistor,old,5,1,\n", "the age 'old'"),
        ("kind,age,parts,objects,failures\nresistor,,five,1,\n", "the number 'five'"),
        ("kind,age,parts,objects,failures\nresistor,,5,1,open\n", "the failures 'open'"),
        ("kind,age,parts,objects,failures\nresistor,5,1\n", "too many or too few columns"),
    ],
)
def test_counts_files_that_cannot_be_used(tmp_path: Path, text: str, words: str) -> None:
    (tmp_path / "counts.csv").write_text(text, "utf-8")
    with pytest.raises(BadInput, match=words):
        read_counts(tmp_path / "counts.csv")


def test_counts_file(tmp_path: Path) -> None:
    text = "kind,age,parts,objects,failures\nlogic,35,80,4,dead:2 open *:1 unknown:1\nresistor,70+,9,1,\n"
    (tmp_path / "counts.csv").write_text(text, "utf-8")
    first, second = read_counts(tmp_path / "counts.csv")[0]
    assert (first.band, first.parts, dict(first.failures)) == ("30-40", 80, {"dead": 2, "open *": 1, "unknown": 1})
    assert (second.band, second.failed) == ("70+", 0)


def test_pace_is_the_weighted_mean_within_limits() -> None:
    (found,) = paces(Times({"voltage": [6.0, 8.0, 10.0]}))
    assert found.minutes == pytest.approx((5 * found.usual + 24.0) / 8)
    assert Pace("voltage", 1.0, 900.0, 3).factor == 5.0


def test_changes_of_state_are_learned_without_the_reading(folder: Path) -> None:
    board = load_board(folder / "board.toml")
    text = VISIT + entry(1, 0.0, point="a", quantity="voltage", value="5 V", state="on")
    text += entry(2, 9.0, point="a", quantity="resistance", value="5 kohm", state="off")
    text += entry(3, 39.0, point="a", quantity="voltage", value="5 V", state="on")  # a pause: half an hour
    (folder / "visit.toml").write_text(text, "utf-8")
    found = times_of(board, VisitFile(folder / "visit.toml", board).entries())
    assert (found.setups, dict(found.readings)) == ([9.0 - quantity("resistance").minutes], {})


def test_what_a_bench_takes_moves_what_tests_and_repairs_cost(folder: Path) -> None:
    """Weighted means by hand; what is too slow to be true is held at the limit."""
    board, usual = load_board(folder / "board.toml"), quantity("resistance").minutes
    slow = effort_of(Times({"resistance": [1e3] * 99}, [1e3] * 99, {"original": [60.0] * 27}))
    assert slow.readings["resistance"] == slow.setup == 5.0
    assert slow.repairs["original"] == pytest.approx((3 * 30 + 27 * 60) / 30 / 30)
    readings = [Reading("a", "resistance", 4980.0, uncertainty=30.0, state="off")]
    plain, learned = (
        Diagnoser(board, usual_chain(board), effort=effort).diagnose(readings) for effort in (Effort(), slow)
    )
    for one, factor in ((plain, 1.0), (learned, 5.0)):
        minutes = [advice.test.minutes for advice in one.advice if advice.test.quantity == "resistance"]
        assert minutes
        assert minutes == pytest.approx([usual * factor] * len(minutes))
    assert repairs_of(board, slow.repairs)["R1"].minutes == pytest.approx(57.0)
    assert Diagnoser(board, usual_chain(board)).posterior(readings).parts() == plain.posterior.parts()
    assert learned.posterior.parts() == plain.posterior.parts()  # what is believed does not depend on it


def test_a_bench_session_starts_with_what_was_learned(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from kilter.cli import bench

    counts = folder / "counts.csv"
    counts.write_text("kind,age,parts,objects,failures\nresistor,,400,40,open:80\n", "utf-8")
    experience = str(folder / "known.jsonl")
    assert run(["learn", "counts", str(counts), "--experience", experience]) == 0
    seen: dict[str, Any] = {}

    def caught(board: Any, **choices: Any) -> Any:
        seen.update(choices)
        return diagnoser(board, **choices)

    monkeypatch.setattr(bench, "diagnoser", caught)
    monkeypatch.setattr("sys.stdin", io.StringIO("q\n"))
    words = ["bench", str(folder / "board.toml"), "--visit", str(folder / "new.toml")]
    assert run([*words, "--experience", experience]) == 0
    a, p = number("prior_failures"), part_kind("resistor").odds
    whole = sum(odds for (part, _), odds in seen["odds"].items() if part == "R1")
    assert whole == pytest.approx((a + 80) / (a / p + 400))
