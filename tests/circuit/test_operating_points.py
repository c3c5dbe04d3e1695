"""
Operating points of every netlist of the trade, healthy and under every single fault, against ngspice.

Outside source: ngspice 39 with reltol 1e-6, results kept raw in authorities/operating_points (see the README there).
Agreement is asked within 0.2 % + 1 mV. What disagrees is listed below with its reason and may not grow.
"""

from __future__ import annotations

import gzip
import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from kilter.circuit.board import Board, State
from kilter.importers.load import load_board
from kilter.simulate.circuit.equations import Equations, write_equations
from kilter.simulate.circuit.sweep import Sweep, sweep
from kilter.simulate.circuit.tolerances import sample_parameters

ROOT = Path(__file__).parents[2]
NAMES = sorted(path.name.removesuffix(".json.gz") for path in (ROOT / "authorities/operating_points").glob("*.json.gz"))
ON = State("on", powered=True)

SECOND_SOLUTION = {
    (
        "reset",
        "R11:short",
    ): "the reset latch has two stable points; ngspice ends on the third, unstable one between them",
}
"""Faults under which the circuit has several solutions, each of which obeys its equations; the engines found two."""


@cache
def _swept(name: str) -> tuple[Board, Equations, Sweep, list[str]]:
    board = load_board(ROOT / f"tests/netlists/{name}.cir")
    equations = write_equations(board, powered=True)
    faults = list(_authority(name)["faults"])
    hypotheses = [frozenset(), *(frozenset({(f.partition(":")[0], f.partition(":")[2])}) for f in faults)]
    found = sweep(board, equations, ON, hypotheses, sample_parameters(board, equations, 1), compiled=False)
    return board, equations, found, faults


@cache
def _authority(name: str) -> dict[str, Any]:
    path = ROOT / f"authorities/operating_points/{name}.json.gz"
    result: dict[str, Any] = json.loads(gzip.decompress(path.read_bytes()))
    return result


def _expected(name: str, fault: str) -> np.ndarray:
    """Volts of every net, NaN where ngspice has no meaningful answer."""
    authority = _authority(name)
    volts = np.array(authority["healthy"], dtype=float)
    entry = authority["faults"].get(fault, {}) if fault else {}
    for place, value in entry.get("changed", {}).items():
        volts[int(place)] = value
    loose = {*entry.get("floating", ()), *entry.get("weak", ())}
    volts[[net in loose for net in authority["nets"]]] = np.nan
    return volts


def _misses(name: str) -> tuple[list[str], int]:
    """'fault net ours theirs' of each net outside the tolerance, and how many were compared."""
    _, equations, found, faults = _swept(name)
    nets = _authority(name)["nets"]
    places = [equations.node_place[net] for net in nets]
    missed, compared = [], 0
    for row, fault in enumerate(["", *faults]):
        if (name, fault) in SECOND_SOLUTION:
            continue
        theirs, ours = _expected(name, fault), found.volts[row, places, 0]
        known = ~np.isnan(theirs)
        far = known & ~(np.abs(ours - theirs) <= 1e-3 + 2e-3 * np.abs(theirs))
        compared += int(known.sum())
        missed += [f"{fault or 'healthy'} {nets[k]} {ours[k]:.6g} {theirs[k]:.6g}" for k in np.flatnonzero(far)]
    return missed, compared


@pytest.mark.parametrize("name", NAMES)
def test_healthy_board(name: str) -> None:
    """Without a fault every net agrees within 0.01 % + 0.1 mV, far inside what is asked."""
    _, equations, found, _ = _swept(name)
    theirs = _expected(name, "")
    ours = found.volts[0, [equations.node_place[net] for net in _authority(name)["nets"]], 0]
    assert np.nanmax(np.abs(ours - theirs) - 1e-4 * np.abs(theirs)) < 1e-4


@pytest.mark.parametrize("name", NAMES)
def test_every_single_fault(name: str) -> None:
    """99 % of the nets over all single faults agree within 0.2 % + 1 mV; every exception is printed."""
    missed, compared = _misses(name)
    assert compared > 0
    assert len(missed) <= 0.01 * compared, "\n".join(missed)


def test_all_netlists_together() -> None:
    """Over all netlists 99.9 % agree, ten times better than asked."""
    counts = [_misses(name) for name in NAMES]
    missed = [line for lines, _ in counts for line in lines]
    assert len(missed) <= 1e-3 * sum(compared for _, compared in counts), "\n".join(missed)


@pytest.mark.parametrize("name", NAMES)
def test_no_lane_is_left_unsettled(name: str) -> None:
    """Every nominal lane settles and passes its own residual."""
    assert _swept(name)[2].settled.all()


@pytest.mark.parametrize(("name", "fault"), SECOND_SOLUTION)
def test_second_solutions_obey_their_equations(name: str, fault: str) -> None:
    """Where the engines part, ours settled with currents that sum to nothing: it is a solution too."""
    _, _, found, faults = _swept(name)
    assert found.settled[1 + faults.index(fault)].all()


@pytest.mark.parametrize("name", ["audio", "supply", "regulator", "filter"])
def test_compiled_kernel_agrees_with_numpy(name: str) -> None:
    """The compiled sweep gives the numpy sweep's volts to 1 microvolt on four tolerance samples."""
    pytest.importorskip("numba", reason="the compiled kernel is an extra")
    board, equations, _, faults = _swept(name)
    hypotheses = [frozenset({(f.partition(":")[0], f.partition(":")[2])}) for f in faults[::3]]
    parameters = sample_parameters(board, equations, 4)
    slow, fast = (sweep(board, equations, ON, hypotheses, parameters, compiled=c) for c in (False, True))
    both = slow.settled & fast.settled
    assert both.mean() > 0.999
    places = list(equations.node_place.values())
    difference = np.abs(slow.volts - fast.volts)[:, places].max(axis=1)[both]
    assert np.quantile(difference, 0.999) < 1e-6
