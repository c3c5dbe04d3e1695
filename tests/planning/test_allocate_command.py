"""The commands `stock` and `allocate` on the invented collection and on input that cannot be used."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kilter.cli.main import run

DEMO = Path(__file__).parents[2] / "src" / "kilter" / "data" / "demo"
ASK = ["allocate", str(DEMO / "collection.toml"), "--stock", str(DEMO / "stock.csv")]


def asked(capsys: pytest.CaptureFixture[str], *arguments: str, code: int = 0) -> str:
    assert run(list(arguments)) == code
    return capsys.readouterr().out


def test_the_plan_of_the_invented_collection(capsys: pytest.CaptureFixture[str]) -> None:
    plan = json.loads(asked(capsys, *ASK, "--json", "--why-not", "HC 0610", "--worlds", "30"))
    numbers = {one["number"] for one in plan["made"]}
    assert numbers == {"HC 0502", "HC 0503", "HC 0504"}
    assert not numbers & set(plan["waiting"])
    refused = {one["number"]: one for one in plan["refused"]}
    assert refused["HC 0700"]["missing_approvals"] == ["governing body", "registrar"]
    assert "compared with" in refused["HC 0416"]["why"]
    assert all(piece["part"] != "4164" for one in plan["made"] for piece in one["pieces"])
    assert plan["gap"] <= 0.001
    assert plan["worth"] <= plan["bound"] + 1e-9
    assert all(one["chance"] >= one["chance_at_least"] for one in plan["made"])
    gains = {one["part"]: one for one in plan["one_more"]}
    assert gains["resistor 100k"]["serves"] == ["HC 0417"]  # what its own diagnosis asks for
    after = plan["after_diagnosis"]
    assert after["worth"] + 4 * after["spread"] >= plan["worth"]
    assert after["worth"] + 4 * after["spread"] >= after["worth_with_the_plans_donors"]
    assert plan["why_not"]["subject"] == "HC 0610"


def test_the_same_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    told = asked(capsys, *ASK)
    for words in ("MADE TO WORK", "STAY WHOLE", "HAVE TO WAIT", "BUY OR ASK FOR", "CAUTIONS", "may fall short"):
        assert words in told


def test_stock(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    told = json.loads(asked(capsys, "stock", str(DEMO / "stock.csv"), "--json", "--write", str(tmp_path / "new.csv")))
    assert told["left_out"] == []
    assert {one["part"]: one["count"] for one in told["parts"]}["4116"] == 4
    again = json.loads(asked(capsys, "stock", str(tmp_path / "new.csv"), "--json"))
    assert again["parts"] == told["parts"]
    assert run(["stock", str(DEMO / "stock.csv"), "--write", str(tmp_path / "new.csv")]) == 2
    assert "Name another file" in capsys.readouterr().err


def test_rows_left_out_are_said(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (tmp_path / "s.csv").write_text("part,count\n4116,1\n4116,x\n", encoding="utf-8")
    assert "the count 'x'" in asked(capsys, "stock", str(tmp_path / "s.csv"), code=3)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("collection = 'x'", "kilter"),
        ("kilter = 1\n[objects.A]\nworth = 3", "needs"),
        ("kilter = 1\n[objects.A]\nworth = -3\nneeds = {x = 1}", "-3"),
        ("kilter = 1\n[objects.A]\nneeds = {x = -1}", "-1"),
        ("kilter = 1\n[objects.A]\nneeds = {x = 1}\nsince = 'May'", "'May'"),
        ("kilter = 1\n[objects.A]\nfindings = [{chance = 0.7, needs = {x = 1}}, {chance = 0.5, needs = {}}]", "1.2"),
        ("kilter = 1\n[donors.D]\naccession = 'mine'\nparts = {x = {good = 0.5}}", "mine"),
        ("kilter = 1\n[donors.D]\nparts = {x = {count = 2}}", "good"),
        ("kilter = 1\n[[offers]]\npart = 'x'\ngood = 2\ncost = 1", "2"),
        ("kilter = 1\n[[stand_ins]]\nwanted = 'x'\npart = 'y'\nverdict = 'perhaps'", "perhaps"),
        ("kilter = 1\nobjets = 3", "objets"),
    ],
)
def test_collection_files_that_cannot_be_used(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, text: str, found: str
) -> None:
    (tmp_path / "c.toml").write_text(text, encoding="utf-8")
    assert run(["allocate", str(tmp_path / "c.toml")]) == 2
    said = capsys.readouterr().err
    assert found in said
    assert "Allowed:" in said


@pytest.mark.parametrize(
    "more", [["--gap", "1"], ["--gap", "-0.1"], ["--gap", "nan"], ["--worlds", "-1"], ["--seconds", "0"]]
)
def test_options_out_of_range(capsys: pytest.CaptureFixture[str], more: list[str]) -> None:
    assert run([*ASK, *more]) == 2
    assert "Allowed:" in capsys.readouterr().err
