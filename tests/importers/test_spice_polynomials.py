"""Linear polynomial sources: the sum of their terms, by hand arithmetic and by ngspice on the expanded elements."""

from __future__ import annotations

from pathlib import Path

import pytest
from ngspice_authority import node_voltages

from kilter.importers.spice import read_spice
from kilter.measure.errors import BadInput
from kilter.simulate.ngspice.names import net_of
from kilter.simulate.ngspice.netlist_text import spice_text

# a = 2 V, b = 3 V; i(va) = -(2 V / 1 kohm) = -2 mA and i(vb) = -3 mA, flowing into the plus end.
HEAD = "title\nVA a 0 2\nVB b 0 3\nRA a 0 1k\nRB b 0 1k\nRO o 0 1k\n"

CASES = {
    "E1 o 0 POLY(2) (a,0) (b,0) 1 10 100": 1 + 10 * 2 + 100 * 3,
    "E1 o 0 poly(2) a 0 b a 0 10 100": 10 * 2 + 100 * 1,
    "E1 o 0 POLY(1) a 0 5": 5 * 2,
    "E1 o 0 POLY(1) a 0 5 2": 5 + 2 * 2,
    "G1 0 o POLY(2) a 0 b 0 1m 2m 3m": 1000 * (1e-3 + 2e-3 * 2 + 3e-3 * 3),
    "F1 0 o POLY(2) VA VB 0 2 3": 1000 * (2 * -2e-3 + 3 * -3e-3),
    "F1 0 o POLY(1) VA 1m 2": 1000 * (1e-3 + 2 * -2e-3),
    "H1 o 0 POLY(2) VA VB 1 100 200": 1 + 100 * -2e-3 + 200 * -3e-3,
    "H1 o 0 POLY(1) VA 100": 100 * -2e-3,
    "E1 o 0 POLY(2) a 0 b 0 1 10 100 0 0 0": 1 + 10 * 2 + 100 * 3,
}


@pytest.mark.ngspice
@pytest.mark.parametrize(("line", "volts"), CASES.items())
def test_sum_of_terms(tmp_path: Path, line: str, volts: float) -> None:
    (tmp_path / "p.cir").write_text(f"{HEAD}{line}\n")
    board = read_spice(tmp_path / "p.cir")
    assert not board.warnings
    nodes = {net_of(node): value for node, value in node_voltages(spice_text(board.elements.values())).items()}
    assert nodes["o"] == pytest.approx(volts, rel=1e-9)


def test_products_are_left_out_and_said(tmp_path: Path) -> None:
    (tmp_path / "p.cir").write_text(f"{HEAD}E1 o 0 POLY(2) a 0 b 0 0 0 0 0 1\n")
    board = read_spice(tmp_path / "p.cir")
    assert "E1" not in board.elements
    assert any("E1" in warning and "left out" in warning for warning in board.warnings)


@pytest.mark.parametrize("line", ["E1 o 0 POLY(x) a 0 1", "E1 o 0 POLY(2) a 0 1", "E1 o 0 POLY", "F1 o 0 POLY(1) VX 1"])
def test_refused(tmp_path: Path, line: str) -> None:
    (tmp_path / "p.cir").write_text(f"{HEAD}{line}\n")
    with pytest.raises(BadInput, match="line 7"):
        read_spice(tmp_path / "p.cir")
