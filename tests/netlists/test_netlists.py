"""
The netlists of the trade: what ngspice says of a file itself, against what it says of it as we read and write it.

Authority: authorities/operating_points/*.json.gz (ngspice 39; see authorities/README.md). Design values worked out by
hand beside each check.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import math
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from kilter.importers.spice import read_spice
from kilter.measure.errors import NotAvailable
from kilter.simulate.ngspice import NgspiceWorker, net_voltages
from kilter.simulate.ngspice.library import find_ngspice

HERE = Path(__file__).parent
NETLISTS = sorted(HERE.glob("*.cir"))
AUTHORITIES = HERE.parent.parent / "authorities" / "operating_points"


@cache
def authority(name: str) -> dict[str, Any]:
    record: dict[str, Any] = json.loads(gzip.decompress((AUTHORITIES / f"{name}.json.gz").read_bytes()))
    return record


@pytest.fixture(scope="module")
def worker() -> Iterator[NgspiceWorker]:
    try:
        find_ngspice()
    except NotAvailable:
        pytest.skip("the ngspice shared library is absent")
    with NgspiceWorker() as started:
        yield started


def ngspice_name(net: str) -> str:
    """Our 'U1.pole' is ngspice's 'xu1.pole'."""
    return ("x" + net if "." in net else net).lower()


@pytest.mark.parametrize("path", NETLISTS, ids=lambda path: path.stem)
class TestEveryNetlist:
    def test_authority_is_of_this_file(self, path: Path) -> None:
        assert authority(path.stem)["netlist_sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()

    def test_importer_and_writer_keep_the_circuit(self, path: Path) -> None:
        record = authority(path.stem)
        kept = dict(zip(map(ngspice_name, record["nets"]), record["healthy"], strict=True))
        assert kept == pytest.approx(record["from_file"], rel=1e-6, abs=1e-6)

    @pytest.mark.ngspice
    def test_answers_have_not_changed(self, path: Path, worker: NgspiceWorker) -> None:
        record, board = authority(path.stem), read_spice(path)
        volts = net_voltages(worker, list(board.elements.values()))
        assert [volts[net] for net in record["nets"]] == pytest.approx(record["healthy"], rel=1e-6, abs=1e-6)


@pytest.mark.parametrize(
    ("name", "net", "expected", "within"),
    [
        ("supply", "out", 5.6 * (1 + 1.2 / 1.0), 0.03),  # zener times (R6 + R7) / R7
        ("regulator", "vout", 2.75 * (1 + 1.8 / 2.2), 0.03),  # zener times (R5 + R6) / R6
        ("audio", "bias", 18 * 120 / 220, 0.02),  # the divider R2, R3, lightly loaded
        ("reset", "rst", 5.0, 0.03),  # released
        ("filter", "out3", 6.0, 0.01),  # half the supply
        ("statevariable", "lp", -1.0, 0.01),  # direct-current gain -R2/R1 of a summing loop
        ("expo", "base1", -(2 / 100 + 0.5 / 220) * 100 / 57, 0.02),  # summed, then divided by R5, R6
        ("drivers", "amp", 6.0, 0.1),  # about half the supply
    ],
)
def test_design_values(name: str, net: str, expected: float, within: float) -> None:
    record = authority(name)
    assert record["healthy"][record["nets"].index(net)] == pytest.approx(expected, rel=within)


@pytest.mark.ngspice
def test_state_variable_filter_response(worker: NgspiceWorker) -> None:
    """Centre 1/(2 pi R C) and band-pass gain there, derived for ideal amplifiers."""
    centre = 1 / (2 * math.pi * 10e3 * 20e-9)
    text = (HERE / "statevariable.cir").read_text("utf-8")
    response = worker.ac(text, [centre / 100, centre, centre * 100])
    damping = 3 * 3 / 10  # the sum at XU1's plus input, R6 / (R6 + R7), times the noise gain 3
    assert abs(response["bp"][1]) == pytest.approx(1 / damping, rel=0.02)
    assert abs(response["lp"][0]) == pytest.approx(1.0, rel=0.01)
    assert abs(response["hp"][2]) == pytest.approx(1.0, rel=0.1)


COMPOSED = {"supply": 1, "regulator": 1, "audio": 3, "filter": 2, "drivers": 1, "reset": 3, "crystal": 2}


def test_board_is_composed_of_the_small_netlists() -> None:
    assert len(authority("board")["nets"]) >= 150
    parts = sum(len(read_spice(HERE / f"{name}.cir").parts) * times for name, times in COMPOSED.items())
    left_out = 2  # RL1 of the supply, RS1 of the regulator
    assert len(read_spice(HERE / "board.cir").parts) == parts - left_out
