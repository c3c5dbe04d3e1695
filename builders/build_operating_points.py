"""
Writes authorities/operating_points/NAME.json.gz: what ngspice says of every netlist, healthy and under every fault.

    python builders/build_operating_points.py [NAME ...]

Needs the ngspice shared library. The format is described in authorities/README.md.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import sys
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from kilter.circuit.board import GROUND, Board, Element
from kilter.importers.spice import read_spice
from kilter.parts.kinds import modes_of
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.faults import apply_faults
from kilter.simulate.ngspice import NgspiceWorker, NotSettled, net_voltages
from kilter.simulate.ngspice.settings import pivot_thresholds, tight_options

ROOT = Path(__file__).resolve().parent.parent
NETLISTS = ROOT / "tests" / "netlists"
AUTHORITIES = ROOT / "authorities" / "operating_points"
STATE = "on"
DIGITS_HEALTHY, DIGITS_CHANGED = 9, 7
SAME_RELATIVE, SAME_VOLTS = 1e-6, 1e-5
WEAK_VOLTS = 1e-4
"""A net is weak when ten times the leakage across every junction, or another pivot order, moves it by more."""
TIGHT = tight_options()
PIVOTS = pivot_thresholds()
WAYS = ((TIGHT, PIVOTS), ({**TIGHT, "gmin": 10 * TIGHT["gmin"]}, PIVOTS), (TIGHT, PIVOTS[1:] + PIVOTS[:1]))
CONDUCTS = frozenset("RLVDQEH")
"""Kinds whose terminals a direct current, however small, can pass between."""


def write_authority(worker: NgspiceWorker, path: Path) -> str:
    """Write what ngspice says of one netlist and return a line about it."""
    board = read_spice(path)
    nets = sorted({net for element in board.elements.values() for net in element.nodes} - {GROUND})
    healthy = _volts(worker, apply_faults(board, board.state(STATE), frozenset()), nets, TIGHT, PIVOTS)
    faults = {f"{ref}:{key}": _under_fault(worker, board, (ref, key), nets, healthy) for ref, key in _faults(board)}
    record = {
        "netlist": path.name,
        "netlist_sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
        "simulator": f"{worker.version()} shared library, analysis 'op'",
        "command": f"python builders/build_operating_points.py {path.stem}",
        "options": dict(TIGHT),
        "state": STATE,
        "nets": nets,
        "modes": _modes(board),
        "from_file": _from_file(worker, path),
        "healthy": [_rounded(volts) for volts in healthy],
        "faults": faults,
    }
    _write(AUTHORITIES / f"{path.stem}.json.gz", record)
    counts = ", ".join(f"{sum(key in fault for fault in faults.values())} {key}" for key in ("floating", "weak"))
    unsettled = [name for name, fault in faults.items() if "unsettled" in fault]
    return f"{path.stem}: {len(nets)} nets, {len(faults)} faults, {counts}, unsettled: {unsettled}"


def _faults(board: Board) -> Iterator[tuple[str, str]]:
    for part in board.parts.values():
        for mode in modes_of(part):
            if mode.circuit:
                yield part.ref, mode.key


def _modes(board: Board) -> dict[str, dict[str, list[Any]]]:
    """What each mode did to the circuit, by kind: a later edition of the part kinds may say otherwise."""
    by_part = [(part, [mode for mode in modes_of(part) if mode.circuit]) for part in board.parts.values()]
    return {
        part.kind: {mode.key: [[c.verb, *c.pins, c.number, c.amount] for c in mode.circuit] for mode in modes}
        for part, modes in by_part
    }


def _under_fault(
    worker: NgspiceWorker, board: Board, fault: tuple[str, str], nets: Sequence[str], healthy: Sequence[float]
) -> dict[str, Any]:
    """Changed nets by their place in the list, nets held weakly or by nothing, or why there is no answer."""
    elements = apply_faults(board, board.state(STATE), frozenset({fault}))
    islands = _islands(elements)
    floating = sorted(set(nets) & {net for island in islands for net in island})
    held = [*elements, *_ties(islands)]
    try:
        volts, *others = (_volts(worker, held, nets, options, pivots) for options, pivots in WAYS)
    except NotSettled as reason:
        return {"unsettled": reason.found}
    weak = [net for net, *values in zip(nets, volts, *others, strict=True) if max(values) - min(values) > WEAK_VOLTS]
    changed = {
        place: _rounded(now, DIGITS_CHANGED)
        for place, (net, now, before) in enumerate(zip(nets, volts, healthy, strict=True))
        if net not in floating and abs(now - before) > SAME_RELATIVE * abs(before) + SAME_VOLTS
    }
    lists = {"floating": floating, "weak": sorted(set(weak) - set(floating))}
    return {"changed": changed} | {name: nets for name, nets in lists.items() if nets}


def _volts(
    worker: NgspiceWorker,
    elements: Sequence[Element],
    nets: Sequence[str],
    options: Mapping[str, float],
    pivots: Sequence[float],
) -> list[float]:
    volts = net_voltages(worker, elements, options=options, pivots=pivots)
    return [volts[net] for net in nets]


def _rounded(number: float, digits: int = DIGITS_HEALTHY) -> float:
    return float(f"{number:.{digits}g}")


def _islands(elements: Sequence[Element]) -> list[list[str]]:
    """Groups of nets with no path to ground but capacitors, current sources and what marks a lifted pin."""
    neighbours = _neighbours(elements)
    seen = _reached(neighbours, GROUND)
    islands = []
    for net in neighbours:
        if net not in seen:
            islands.append(sorted(_reached(neighbours, net)))
            seen |= set(islands[-1])
    return islands


def _ties(islands: Sequence[Sequence[str]]) -> list[Element]:
    """One resistor from each island to ground: no direct current flows in it, and the rest of the circuit settles."""
    return [Element(f"tie {island[0]}", "R", (island[0], GROUND), 1 / engine_number("tie_s")) for island in islands]


def _neighbours(elements: Sequence[Element]) -> dict[str, set[str]]:
    neighbours: dict[str, set[str]] = {}
    for element in elements:
        marks_lifted_pin = element.kind == "R" and element.value >= engine_number("dangling_ohm")
        ends = element.nodes[:2] if element.kind in "EH" else element.nodes
        for end in element.nodes:
            neighbours.setdefault(end, set())
        if element.kind in CONDUCTS and not marks_lifted_pin:
            for end in ends:
                neighbours[end] |= set(ends)
    return neighbours


def _reached(neighbours: dict[str, set[str]], start: str) -> set[str]:
    found, todo = {start}, [start]
    while todo:
        fresh = neighbours.get(todo.pop(), set()) - found
        found |= fresh
        todo += fresh
    return found


def _from_file(worker: NgspiceWorker, path: Path) -> dict[str, float]:
    """The operating point of the netlist file itself, with the tight options: node by ngspice's own name to volts."""
    options = ".options " + " ".join(f"{name}={value!r}" for name, value in TIGHT.items())
    point = worker.operating_point(path.read_text("utf-8").replace("\n.op\n", f"\n{options}\n.op\n"))
    return {name: _rounded(volts) for name, volts in point.items() if "#" not in name}


def _write(path: Path, record: object) -> None:
    """Compressed without a time stamp, so that the same results give the same bytes."""
    path.parent.mkdir(parents=True, exist_ok=True)
    text = json.dumps(record, separators=(",", ":"), ensure_ascii=False)
    path.write_bytes(gzip.compress(text.encode(), compresslevel=9, mtime=0))


def main(names: Sequence[str]) -> None:
    """Write the authorities named, or all."""
    paths = [NETLISTS / f"{name}.cir" for name in names] or sorted(NETLISTS.glob("*.cir"))
    with NgspiceWorker() as worker:
        for path in paths:
            print(write_authority(worker, path), flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
