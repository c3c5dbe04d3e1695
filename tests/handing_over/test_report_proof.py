"""What the report says of the proof of a repair and of hours under power: limits, guard bands, what was not done."""

from __future__ import annotations

import dataclasses
import json
import math
from pathlib import Path

import jsonschema_rs
import pytest
from dossiers import full
from scipy.stats import norm
from test_report_command import BOARD, visit  # noqa: F401  (a fixture)

from kilter.cli.main import run
from kilter.cli.report import report_text
from kilter.exporters.report_html import report_html
from kilter.exporters.report_json import dossier_plain, schema_text
from kilter.exporters.report_pdf import report_pdf
from kilter.exporters.report_proof import NO_ACCEPTANCE, NO_SOAK
from kilter.services.acceptance_list import Item
from kilter.services.evidence_of import make_test
from kilter.services.prove_repair import prove_repair
from kilter.services.tell_proof import acceptance_of
from kilter.wiring.loading import load_board, load_readings

PLAN = 'kilter = 1\nsoak = "ladder"\nhours = 4\n[channels]\nMID = { quantity = "voltage", low = "4 V", high = "6 V" }\n'


def words(text: str) -> str:
    return " ".join(text.split())


def test_every_form_tells_it(tmp_path: Path) -> None:
    dossier = full(tmp_path)
    for told in (words(report_text(dossier)), words(report_html(dossier))):
        for piece in ("Visit 1: open (1 accepted, 0 rejected, 0 cannot tell, 1 open)", "R41 drifted high",
                      "4.783 V to 5.217 V", "U6 is pulled and not back", "planned 24 h in state", "verdict changed",
                      "day 1.csv: 23.5 h watched; 0.5 h in which nothing was logged are not counted",
                      "23.5 h were watched without failure", "a smell of dust", "It was not done, or nothing of it"):
            assert piece in told.replace("&#x27;", "'"), piece
    assert report_pdf(dossier).startswith(b"%PDF")
    plain = dossier_plain(dossier)
    jsonschema_rs.validator_for(json.loads(schema_text())).validate(plain)
    assert plain["acceptance"][0]["items"][0]["accepts_high"] == 5.217
    assert plain["soaks"][1]["verdict"] == ""


def test_what_was_not_done_is_said(tmp_path: Path) -> None:
    bare = dataclasses.replace(full(tmp_path), acceptance=(), soaks=())
    told = words(report_text(bare))
    assert NO_ACCEPTANCE in told
    assert NO_SOAK in told


def test_a_dossier_of_before_fits_the_schema(tmp_path: Path) -> None:
    plain = dossier_plain(full(tmp_path))
    del plain["acceptance"], plain["soaks"]
    jsonschema_rs.validator_for(json.loads(schema_text())).validate(plain)


def test_who_recorded_a_soak_is_a_person_of_the_dossier(tmp_path: Path) -> None:
    soak = full(tmp_path).soaks[0]
    alone = dataclasses.replace(full(tmp_path), soaks=(dataclasses.replace(soak, who="p-9"),), names={"p-9": "Ada"})
    assert "p-9" in alone.people()
    assert "Ada" in report_text(alone)
    assert "Ada" not in report_text(alone.without_names())


def test_from_a_visit_file_with_a_soak(
    visit: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]  # noqa: F811
) -> None:
    """A part was renewed and nothing read since: every item is open. 199 minutes at 90 %: T / -ln(1 - C)."""
    plan, log = tmp_path / "plan.toml", tmp_path / "day 1.csv"
    plan.write_text(PLAN)
    log.write_text("time (min),MID (V)\n" + "".join(f"{at},{5 + at % 3 / 100}\n" for at in range(200)))
    code = run(["report", BOARD, "--visit", str(visit), "--number", "HC 0417", "--json", "--soak-plan", str(plan),
                "--soak-log", str(log)])  # fmt: skip
    told = json.loads(capsys.readouterr().out)
    assert code in (0, 3)
    jsonschema_rs.validator_for(json.loads(schema_text())).validate(told)
    (listed,) = told["acceptance"]
    assert listed["verdict"] == "open"
    assert {one["verdict"] for one in listed["items"]} == {"open"}
    (soak,) = told["soaks"]
    assert soak["proofs"][-1] == [0.9, pytest.approx(199 / 60 / math.log(10))]
    assert "not that the object is safe" in soak["proved"][-1]
    names = [one["name"] for one in told["attachments"]]
    assert "day 1.csv" in names


def test_limits_less_guard_bands_are_those_of_the_normal_distribution(tmp_path: Path) -> None:
    """JCGM 106:2012, 8.3: 5 % at one limit makes a guard band of the normal's 95 % point times the uncertainty."""
    board = load_board("src/kilter/data/demo")
    path = tmp_path / "r.csv"
    path.write_text("point,quantity,value,uncertainty,state\nV5,voltage,5.0,0.02,bench\n")
    test = make_test(board, "V5", "voltage", "bench")
    proof = prove_repair(board, [Item(test, (), 4.75, 5.25, source="board file")], (), load_readings(path, board), 0.05)
    (item,) = acceptance_of(board, proof).items
    assert item.accepts_low == pytest.approx(4.75 + norm.ppf(0.95) * 0.02)
    assert item.accepts_high == pytest.approx(5.25 - norm.ppf(0.95) * 0.02)
    assert (item.low, item.high, item.verdict) == (4.75, 5.25, "accepted")
