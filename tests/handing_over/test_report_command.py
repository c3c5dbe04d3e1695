"""`kilter report`: from a board and a visit file to everything that is handed over."""

from __future__ import annotations

import json
from pathlib import Path

import bagit
import jsonschema_rs
import pytest
from dossiers import photograph

from kilter.cli.main import run
from kilter.exporters.report_json import schema_text

BOARD = str(Path(__file__).parents[1] / "cli" / "boards" / "ladder.toml")
OPENING = "# A visit at the bench. Entries are only ever added; an undo is an entry of its own.\nvisit = 1\n"
ENTRIES = (
    'who = "Ilse Varn"\nkind = "power checks"',
    'who = "Ilse Varn"\nkind = "reading"\npoint = "MID"\nvalue = "4.98 V"\ninstrument = "dmm"',
    'who = "Tom Ekered"\nkind = "reading"\npoint = "MID"\nvalue = "49.8 V"\ninstrument = "dmm"',
    'who = "Tom Ekered"\nkind = "undone"\nentry = "3"',
    'who = "Ilse Varn"\nkind = "reading"\npoint = "R1"\nquantity = "done"\nvalue = "renewed"\nnote = "fitted 10k 1 %"',
)


@pytest.fixture
def visit(tmp_path: Path) -> Path:
    """A visit with a reading that was taken back and a part that was renewed."""
    from kilter.wiring.loading import load_board

    board = load_board(BOARD)
    text = f'{OPENING}board = "{board.name}"\n'
    point = next(name for name, one in board.points.items() if one.reachable)
    part = next(iter(board.parts))
    for number, words in enumerate(ENTRIES, 1):
        text += f'\n[[entry]]\nnumber = {number}\ntime = "2026-03-01T09:0{number}:00Z"\n{words}\n'
    text = text.replace('"MID"', f'"{point}"').replace('"R1"', f'"{part}"')
    (tmp_path / "visit.toml").write_text(text, "utf-8")
    return tmp_path / "visit.toml"


def test_text(visit: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["report", BOARD, "--visit", str(visit), "--number", "HC 0417", "--no-diagnosis"]) == 0
    told = capsys.readouterr().out
    for words in ("HC 0417", "4.98 ± 0.0", "taken back", "Ilse Varn", "checks before power passed", "fitted 10k 1 %",
                  "that was taken out was not recorded", "Nothing was diagnosed.", "CAUTIONS"):  # fmt: skip
        assert words in told, words


def test_plain_data(visit: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["report", BOARD, "--visit", str(visit), "--number", "HC 0417", "--json"]) in (0, 3)
    told = json.loads(capsys.readouterr().out)
    jsonschema_rs.validator_for(json.loads(schema_text())).validate(told)
    assert [one["standing"] for one in told["visits"][0]["readings"]] == [True, False]
    assert told["findings"]["suspects"] or told["findings"]["healthy"] > 0
    (repair,) = told["repairs"]
    assert (repair["act"], repair["grade"]) == ("replaced", None), "whether it was soldered was not written down"
    assert told["names"] == {"person 1": "Ilse Varn", "person 2": "Tom Ekered"}


def test_without_names(visit: Path, tmp_path: Path) -> None:
    target = tmp_path / "bag"
    run(["report", BOARD, "--visit", str(visit), "--without-names", "--no-diagnosis", "--bag", str(target)])
    names = (b"Ilse", b"Varn", b"Tom", b"Ekered")
    for path in target.rglob("*"):
        assert path.is_dir() or not any(name in path.read_bytes() for name in names), path


def test_everything_at_once(visit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "in").mkdir()
    photograph(tmp_path / "in", "red")
    files = {name: str(tmp_path / f"out.{name}") for name in ("html", "pdf", "lido", "zip")}
    command = ["report", BOARD, "--visit", str(visit), "--number", "HC 0417", "--no-diagnosis", "--bag",
               str(tmp_path / "bag"), "--before", str(tmp_path / "in" / "red.jpg"),
               "--readings", str(tmp_path / "r.xlsx"), "--label", str(tmp_path / "label.svg")]  # fmt: skip
    command += [word for name, path in files.items() for word in (f"--{name}", path)]
    assert run(command) == 0
    assert capsys.readouterr().out.count("Written: ") == 7
    bagit.Bag(str(tmp_path / "bag")).validate()
    kept = {one.name for one in (tmp_path / "bag" / "data" / "attachments").iterdir()}
    assert kept == {"red.jpg", "visit.toml"}
    assert run(command) == 2, "nothing is overwritten"
    assert "Allowed:" in capsys.readouterr().err


@pytest.mark.parametrize("wrong", [["--visit", "no-such.toml"], ["--before", "no-such.jpg"], ["--label", "label.gif"],
                                   ["--readings", "r.txt"], ["--label", "l.svg"]])  # fmt: skip
def test_what_cannot_be_used_is_said_and_nothing_is_written(
    visit: Path, tmp_path: Path, wrong: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    before = sorted(tmp_path.iterdir())
    words = ["report", BOARD, "--visit", str(visit), "--no-diagnosis", "--html", "page.html", *wrong]
    assert run(words) == 2
    told = capsys.readouterr().err
    assert "Allowed:" in told
    assert "Traceback" not in told
    assert sorted(tmp_path.iterdir()) == before


def test_another_board_s_visit_is_refused(visit: Path, capsys: pytest.CaptureFixture[str]) -> None:
    other = str(Path(__file__).parents[2] / "src" / "kilter" / "data" / "demo")
    assert run(["report", other, "--visit", str(visit)]) == 2
    assert "another visit file" in capsys.readouterr().err
