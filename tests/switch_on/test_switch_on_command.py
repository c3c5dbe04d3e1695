"""The switch-on command on the demo and on boards that it can say little about; the gate of the bench."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from kilter.cli.main import run
from kilter.measure.errors import BadInput
from kilter.records.reading import Reading
from kilter.services.plan_switch_on import plan_switch_on
from kilter.services.visit_log import CHECKED, READ, WAIVED, Entry, VisitLog
from kilter.wiring.demo import demo_folder
from kilter.wiring.loading import load_board


@pytest.fixture
def board() -> Iterator[str]:
    with demo_folder() as folder:
        yield str(folder / "board.toml")


def test_rails_of_the_demo_read_what_a_meter_would_read(board: str) -> None:
    """
    RAW is bleeder 2.2 kohm with the rest in parallel, V9 its 4.7 kohm load with the amplifier's: never above either.

    That is the bound of resistors in parallel, by hand from the netlist; junctions can only make it lower.
    """
    plan = plan_switch_on(load_board(board))
    rails = {one.rail: one for one in plan.rails}
    raw, v9 = rails["RAW"].forward, rails["V9"].forward
    assert raw is not None
    assert v9 is not None
    assert 0.5 * 2200 < raw[0] < raw[1] < 2200 * 1.12
    assert v9[1] < 4700 * 1.12
    assert all(one.least is not None and one.forward is not None and one.least < one.forward[0] for one in plan.rails)


def test_plus_legs_of_the_demo(board: str) -> None:
    """By the netlist: all its polarised capacitors have their plus leg on the higher net of the drawing."""
    plan = plan_switch_on(load_board(board))
    assert {one.part: one.plus for one in plan.polarity} == {
        "C1": "raw", "C3": "v5", "C50": "v5", "C51": "v5", "C10": "zref", "C11": "v9", "C20": "timing", "C41": "base1",
        "C42": "em1", "C44": "out"}  # fmt: skip


def test_limits_grow_and_lie_above_what_healthy_boards_draw(board: str) -> None:
    plan = plan_switch_on(load_board(board))
    for ramp in (plan.bare, plan.whole):
        assert ramp is not None
        shares, limits = [one.share for one in ramp.steps], [one.limit for one in ramp.steps]
        assert shares == sorted(shares)
        assert limits == sorted(limits)
        assert shares[-1] == 1.0
        assert all(one.limit > one.current[1] for one in ramp.steps)
        assert ramp.shorts == ramp.shown + ramp.harmless + len(ramp.unguarded) + len(ramp.unknown)
    assert plan.bare is not None
    assert plan.whole is not None
    assert plan.bare.steps[-1].limit < plan.whole.steps[-1].limit


def test_page_and_json(board: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = tmp_path / "list.html"
    assert run(["switch-on", board, "--page", str(page), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["rails"][0]["rail"] == "RAW"
    written = page.read_text("utf-8")
    assert "plus leg of the big capacitor C1" in written
    assert "<script" not in written
    assert "http" not in written
    assert run(["switch-on", board, "--page", str(page)]) == 2
    assert "Cannot write the checklist" in capsys.readouterr().err
    assert page.read_text("utf-8") == written


def test_board_without_a_circuit_is_told_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "board.toml"
    file.write_text('kilter = 1\nboard = "Blocks <only>"\n[rails.V5]\nnet = "v5"\nnominal = "5 V"\nlow = "4.75 V"\n'
                    'high = "5.25 V"\n[parts.U1]\nkind = "logic"\npins = { vcc = "v5", gnd = "0" }\n')  # fmt: skip
    assert run(["switch-on", str(file), "--page", str(tmp_path / "page.html")]) == 3
    out = capsys.readouterr().out
    assert "no circuit" in out
    assert "not known" in out
    assert "Blocks &lt;only&gt;" in (tmp_path / "page.html").read_text()


def test_state_without_power_is_refused(board: str) -> None:
    with pytest.raises(BadInput, match="no supply is on"):
        plan_switch_on(load_board(board), "off")


def test_limits_in_a_board_file(tmp_path: Path) -> None:
    (tmp_path / "b.cir").write_text("x\nV1 a 0 10\nR1 a b 1k\nC1 b 0 10u\n.op\n.end\n")
    file = tmp_path / "b.toml"
    head = 'kilter = 1\nboard = "B"\nnetlist = "b.cir"\n[parts]\n'
    file.write_text(head + 'R1 = { limits = { watts = "500 mW" } }\nC1 = { limits = { volts = "16 V" } }\n')
    parts = load_board(str(file)).parts
    assert parts["R1"].limits["watts"] == pytest.approx(0.5)
    assert parts["C1"].limits["volts"] == pytest.approx(16)
    for wrong in ('{ watts = "-1 W" }', '{ grams = "1" }', '"much"'):
        file.write_text(head + f"R1 = {{ limits = {wrong} }}\n")
        with pytest.raises(BadInput):
            load_board(str(file))


def test_gate_is_closed_again_by_anything_done() -> None:
    done = Reading("C1", "done", None, "renewed")
    log = VisitLog((Entry(1, "", "A", WAIVED, {"note": "only the lamp"}),))
    assert log.power_checks
    assert log.gate is not None
    assert log.gate.kind == WAIVED
    log = log.with_one(Entry(2, "", "A", READ, {"point": "C1"}, done))
    assert not log.power_checks
    assert log.with_one(Entry(3, "", "A", CHECKED)).power_checks
