"""Sizes of drift that a board file names: modes, odds, circuit, refusals. Expected values by construction."""

from __future__ import annotations

from pathlib import Path

import pytest

from kilter.circuit.board import State
from kilter.importers.load import load_board
from kilter.measure.errors import BadInput
from kilter.parts.kinds import modes_of, part_kind, part_kinds
from kilter.records.part import Part
from kilter.simulate.circuit.faults import apply_faults

CIRCUIT = "Divider\nV1 a 0 10\nR1 a b 1k\nR2 b 0 1k\n.end\n"


def _write(folder: Path, drifts: str) -> Path:
    (folder / "d.cir").write_text(CIRCUIT)
    text = f'kilter = 1\nboard = "d"\nnetlist = "d.cir"\n[parts.R1]\ndrifts = {drifts}\n'
    (folder / "d.toml").write_text(text)
    return folder / "d.toml"


@pytest.mark.parametrize("kind", [k for k, one in part_kinds().items() if any(m.drift for m in one.modes)])
def test_odds_are_shared_out_and_neither_grow_nor_shrink(kind: str) -> None:
    """The odds of a part do not depend on how many sizes are told apart."""
    usual, own = (modes_of(Part("X1", kind, {}, drifts=drifts)) for drifts in ((), (0.5, 0.8, 1.25)))
    assert sum(mode.odds for mode in own) == pytest.approx(sum(mode.odds for mode in usual))
    assert [mode.drift for mode in own if mode.drift] == [0.5, 0.8, 1.25]
    assert {mode.key for mode in own if not mode.drift} == {mode.key for mode in usual if not mode.drift}


def test_a_named_drift_looks_like_the_nearest_of_its_kind() -> None:
    """Signs that an eye may see are those of the kind's drift of about that size."""
    own = {mode.key: mode for mode in modes_of(Part("R1", "resistor", {}, drifts=(0.7, 6.0)))}
    kind = {mode.key: mode for mode in part_kind("resistor").modes}
    assert own["value x0.7"].signs == kind["low"].signs
    assert own["value x6"].signs == kind["far_high"].signs


def test_a_board_file_names_them_and_the_circuit_feels_them(tmp_path: Path) -> None:
    """R1 drifted to 118 % of 1 k is 1180 ohm."""
    board = load_board(_write(tmp_path, '[0.82, "118 %"]'))
    assert board.parts["R1"].drifts == pytest.approx((0.82, 1.18))
    elements = apply_faults(board, State("on", powered=True), frozenset({("R1", "value x1.18")}))
    assert next(e.value for e in elements if e.name == "R1") == pytest.approx(1180.0)


@pytest.mark.parametrize("drifts", ["[0.0]", "[1.0]", "[-0.2]", "0.8", '["much"]'])
def test_what_is_no_drift_is_refused(tmp_path: Path, drifts: str) -> None:
    """A factor of nothing, of one, below nothing, a bare number, a word."""
    with pytest.raises(BadInput, match="R1"):
        load_board(_write(tmp_path, drifts))


def test_a_kind_that_does_not_drift_is_refused() -> None:
    """A transistor has no single value that drifts; the message lists kinds that have one."""
    with pytest.raises(BadInput, match="resistor"):
        modes_of(Part("Q1", "transistor", {}, drifts=(0.8,)))
