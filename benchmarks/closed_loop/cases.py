"""The cases: random healthy boards with random faults that a meter can see somewhere."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from bench_object import BenchObject, single

from kilter.circuit.board import GROUND, Board, State
from kilter.diagnose.priors import priors_of
from kilter.importers.load import load_board
from kilter.measure.errors import KilterError
from kilter.measure.instruments import instrument
from kilter.records.test import Test
from kilter.services.evidence_of import make_test
from kilter.simulate.circuit.equations import write_equations
from kilter.simulate.circuit.faults import mode_of
from kilter.simulate.circuit.tolerances import sample_parameters, sampled_board
from kilter.simulate.ngspice.worker import NgspiceWorker
from kilter.simulate.prediction import Fault, Hypothesis

ROOT = Path(__file__).parents[2]
VISIBLE = 3.0
"""Meter uncertainties by which a fault must move at least one reading."""
TRIES = 400
OWN_SEED = 90_210
"""Added to the seed of tolerance draws, so that no object is one of the predictor's own samples."""


@dataclass(frozen=True)
class Plan:
    """
    One board with the order in which a person goes through it; see boards.toml.

    The blocks of a board are left out: what ngspice says about a board ends where its circuit ends.
    """

    name: str
    file: str
    supply: str
    on: str
    off: str
    rails: tuple[str, ...]
    flow: tuple[str, ...]
    stages: Mapping[str, tuple[str, ...]]

    @cached_property
    def board(self) -> Board:
        """As loaded, without blocks and without the points that the circuit does not reach."""
        board = replace(load_board(ROOT / self.file), blocks={})
        nets = {GROUND} | {net for element in board.elements.values() for net in element.nodes}
        points = {name: p for name, p in board.points.items() if {p.net, p.against} <= nets}
        return replace(board, points=points)

    def state(self, *, powered: bool) -> State:
        """The state in use, or the one with everything off."""
        return self.board.states[self.on if powered else self.off]

    def first(self) -> Test:
        """What is known at the start: the supply's current."""
        return make_test(self.board, self.supply, "current", self.on)

    def tests(self, quantity: str) -> list[Test]:
        """One test at every reachable point."""
        state = self.on if quantity == "voltage" else self.off
        return [make_test(self.board, name, quantity, state) for name, p in self.board.points.items() if p.reachable]


@dataclass(frozen=True)
class Case:
    """One object with what is wrong with it."""

    plan: Plan
    number: int
    bench: BenchObject
    twins: frozenset[str] = frozenset()

    @property
    def parts(self) -> frozenset[str]:
        """The faulty parts."""
        return frozenset(part for part, _ in self.bench.faults)


def plans(names: Sequence[str] = ()) -> list[Plan]:
    """The boards of boards.toml."""
    table = tomllib.loads(Path(__file__).with_name("boards.toml").read_text("utf-8"))
    return [_plan(name, entry) for name, entry in table.items() if not names or name in names]


def _plan(name: str, entry: Mapping[str, Any]) -> Plan:
    stages = {point: tuple(parts) for point, parts in entry["stages"].items()}
    words = {key: str(entry[key]) for key in ("file", "supply", "on", "off")}
    return Plan(name, **words, rails=tuple(entry["rails"]), flow=tuple(entry["flow"]), stages=stages)


def draw_case(
    plan: Plan, worker: NgspiceWorker, number: int, seed: int, *, faults: int = 1, gross: float, sizes: bool = False
) -> Case:
    """
    One object of that board.

    The faults are drawn with their prior odds among those that the circuit feels. Each must move at least one
    reachable reading by more than VISIBLE meter uncertainties, the other faults being there already.

    Raises:
        RuntimeError: No visible fault was found.
    """
    key = (seed, number, *plan.name.encode())
    random = np.random.default_rng([*key, faults])
    healthy = built(plan.board, int(random.integers(2**31)))
    odds = felt(plan.board)
    names, shares = list(odds), np.array(list(odds.values())) / sum(odds.values())
    chosen: Hypothesis = frozenset()
    for _ in range(TRIES):
        fault = names[int(random.choice(len(names), p=shares))]
        if fault[0] in {part for part, _ in chosen}:
            continue
        bench = BenchObject(worker, healthy, chosen | single(fault), key, gross, sizes)
        try:
            seen = visible(plan, bench, chosen)
        except KilterError:
            continue
        if seen:
            chosen |= single(fault)
            if len(chosen) == faults:
                return Case(plan, number, BenchObject(worker, healthy, chosen, key, gross, sizes))
    raise RuntimeError(f"no visible fault on {plan.name} in {TRIES} tries")


def built(board: Board, seed: int) -> Board:
    """One healthy board with parts of its own."""
    equations = write_equations(board, powered=True)
    return sampled_board(board, equations, sample_parameters(board, equations, 2, OWN_SEED + seed)[:, 1])


def felt(board: Board) -> dict[Fault, float]:
    """Prior odds of every fault that changes the circuit."""
    log_odds = priors_of(board).log_odds
    parts = {element.part for element in board.elements.values()}
    return {
        fault: float(np.exp(log))
        for fault, log in log_odds.items()
        if mode_of(board, *fault).circuit and fault[0] in parts
    }


def visible(plan: Plan, bench: BenchObject, without: Hypothesis) -> bool:
    """Whether some reachable reading differs from what it would be with only the other faults."""
    order = [plan.first(), *plan.tests("voltage"), *plan.tests("resistance"), *plan.tests("diode")]
    return any(_moves(plan, bench, test, without) for test in order)


def _moves(plan: Plan, bench: BenchObject, test: Test, without: Hypothesis) -> bool:
    state = plan.board.states[test.state]
    before, after = bench.value(test, state, without), bench.value(test, state)
    if not (np.isfinite(before) and np.isfinite(after)):
        return bool(np.isfinite(before) != np.isfinite(after))
    sd = instrument(test.instrument).standard_uncertainty(test.quantity, before)
    return abs(after - before) > VISIBLE * max(sd, 1e-12)
