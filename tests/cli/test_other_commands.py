"""`kilter check`, `kilter kinds` and `kilter demo`."""

from __future__ import annotations

import tomllib
from pathlib import Path

from command_line import LADDER, Command

from kilter.measure.tables import table

TRUTH = Path(__file__).parents[1] / "demo" / "truth.toml"


def test_check_of_a_sound_board(kilter: Command) -> None:
    ran = kilter("check", LADDER, "--json")
    assert ran.code == 0
    assert ran.json()["findings"] == []


def test_check_says_what_is_wrong(kilter: Command, tmp_path: Path) -> None:
    board = tmp_path / "bare.toml"
    board.write_text('kilter = 1\nboard = "Bare"\n[parts.U1]\nkind = "logic"\n')
    ran = kilter("check", str(board))
    assert ran.code == 3
    assert "WRONG" in ran.out
    assert "no point" in ran.out


def test_kinds_lists_every_word(kilter: Command) -> None:
    found = kilter("kinds", "--json").json()
    assert [one["kind"] for one in found["parts"]] == list(table("part_kinds"))
    assert [one["kind"] for one in found["blocks"]] == list(table("block_kinds")["kinds"])
    assert [one["quantity"] for one in found["quantities"]] == list(table("quantities"))
    assert [one["instrument"] for one in found["instruments"]] == list(table("instruments"))
    assert set(kilter("kinds", "blocks", "--json").json()) == {"blocks"}
    text = kilter("kinds", "instruments").out
    assert all(key in text for key in table("instruments"))


def test_demo_finds_what_was_built_in(kilter: Command) -> None:
    """What was built in is known only to the maker of the readings, builders/build_demo_visits.py, and to the tests."""
    visit = tomllib.loads(TRUTH.read_text())["visits"]["a"]
    told = kilter("demo", "--visit", "a", "--json").json()["a"]
    assert [stage["suspects"][0]["part"] for stage in told] == [stage["culprit"] for stage in visit["stages"]]


def test_demo_files_can_be_copied_and_used(kilter: Command, tmp_path: Path) -> None:
    assert kilter("demo", "--copy", str(tmp_path / "mine")).code == 0
    assert kilter("check", str(tmp_path / "mine")).code == 0
    again = kilter("demo", "--copy", str(tmp_path / "mine"))
    assert again.out.startswith("0 files")
