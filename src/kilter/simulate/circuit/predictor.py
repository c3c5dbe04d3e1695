"""
The circuit predictor: volts, supply current, small signals, and what a meter reads on a dead board.

Meters load what they touch. Meters of a megohm or more are laid at once on all nets that they do not move; a net that
even such a meter moves, and every meter of lower resistance, gets lanes of its own.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.circuit.board import GROUND, Board, State
from kilter.measure.errors import BadInput
from kilter.measure.instruments import Instrument, TestSource, instrument
from kilter.measure.quantities import quantity
from kilter.measure.scales import to_scale
from kilter.records.test import Test
from kilter.simulate.circuit.borrowed import Borrowed
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.dead_board import DeadBoard
from kilter.simulate.circuit.dead_readings import dead_draws
from kilter.simulate.circuit.equations import Equations, write_equations
from kilter.simulate.circuit.fallback import Fallback
from kilter.simulate.circuit.faults import DRIVEN, Move, changes
from kilter.simulate.circuit.meter import NetPair
from kilter.simulate.circuit.sizes import size_draws, with_sizes
from kilter.simulate.circuit.small_signal import small_signal
from kilter.simulate.circuit.soft_nets import soft_nets
from kilter.simulate.circuit.sweep import Standing, Sweep, moved
from kilter.simulate.circuit.swept import Swept, SweptByState
from kilter.simulate.circuit.tolerances import sample_parameters
from kilter.simulate.circuit.unmodelled import unmodelled_doubt
from kilter.simulate.prediction import Floats, Hypothesis, Prediction

POWERED = frozenset({"voltage", "current"})
SIGNALS = frozenset({"ac_voltage", "signal"})
DEAD = frozenset({"resistance", "diode"})

Loads = frozenset[tuple[str, float]]
"""Nets and the resistance of the meter on each. [ohm]"""

DEAD_SAMPLES = 8
"""Healthy boards whose readings under a meter are solved for their spread: a sweep for each place of the meter."""
HEAVY_RANGE_V = 10.0
"""Range in which a moving-coil meter is taken to be used. [V]"""


@dataclass(frozen=True)
class _Condition:
    """The equations and healthy samples of a board, powered or not."""

    equations: Equations
    parameters: Floats


class CircuitPredictor:
    """
    Predicts what the netlist decides.

    Args:
        samples: Tolerance samples of every hypothesis.
        fallback: What answers lanes that the engine does not settle; None leaves them unsettled.
    """

    def __init__(self, samples: int, fallback: Fallback | None = None) -> None:
        self.samples, self.fallback = samples, fallback
        self._swept: SweptByState = {}
        self._dead_boards: dict[Hashable, DeadBoard] = {}
        self._conditions: dict[Hashable, _Condition] = {}
        self._boards: list[Board] = []
        self._nets: dict[int, set[str]] = {}
        self._soft: dict[Hashable, tuple[frozenset[str], Floats]] = {}

    def answers(self, board: Board, test: Test) -> bool:
        """Whether the board has a circuit that decides this reading in the test's state."""
        if not board.elements or test.state not in board.states:
            return False
        state = board.states[test.state]
        if test.quantity == "current":
            return state.powered and _is_supply(board, test.point)
        if test.point not in board.points or not set(_pair(board, test)) <= self._nets_of(board):
            return False
        if test.quantity in SIGNALS:
            return state.powered and state.hertz > 0.0
        return state.powered == (test.quantity in POWERED) and test.quantity in POWERED | DEAD

    def _nets_of(self, board: Board) -> set[str]:
        key = id(board.elements)
        if key not in self._nets:
            self._boards.append(board)  # keeps the id in use
            self._nets[key] = {GROUND} | {node for element in board.elements.values() for node in element.nodes}
        return self._nets[key]

    def predict(
        self, board: Board, state: State, hypotheses: Sequence[Hypothesis], tests: Sequence[Test]
    ) -> Prediction:
        """
        The readings of all tests in one state under each hypothesis.

        Raises:
            BadInput: A fault that there is not, or a circuit whose equations cannot be set up.
        """
        draws, doubt, fallback, unsettled = self._draws(board, state, hypotheses, tests)
        settled = np.isfinite(draws)
        some = settled.any(axis=1)
        mean = np.where(some, np.nansum(draws, axis=1) / np.maximum(settled.sum(axis=1), 1), 0.0)
        draws = np.where(settled, draws, mean[:, None, :])
        spread = draws.std(axis=1, ddof=1) if draws.shape[1] > 1 else np.zeros_like(mean)
        unknown = np.where(some, np.maximum(1.0 - settled.mean(axis=1), doubt), 1.0)
        return Prediction(tuple(tests), mean, spread, unknown, draws, fallback_lanes=fallback, unsettled=unsettled)

    def volts(self, board: Board, state: State, hypotheses: Sequence[Hypothesis], pairs: Sequence[NetPair]) -> Floats:
        """Volts between pairs of nets in a powered state, NaN where not settled. [V], shape (H, S, pairs)"""
        condition = self._condition(board, powered=True)
        found, _ = self._powered(board, state, hypotheses, self._light_loads(board, state))
        place = condition.equations.node_place
        known = [(place.get(a), place.get(b)) for a, b in pairs]
        blank = np.full((len(hypotheses), self.samples), np.nan)
        table = [blank if a is None or b is None else found.volts[:, a] - found.volts[:, b] for a, b in known]
        return np.stack(table, axis=2)

    def _draws(
        self, board: Board, state: State, hypotheses: Sequence[Hypothesis], tests: Sequence[Test]
    ) -> tuple[Floats, Floats, int, int]:
        """Scaled draws (H, S, T), doubt (H, T), lanes answered elsewhere and lanes not settled."""
        draws = np.empty((len(hypotheses), self.samples, len(tests)))
        doubt = np.zeros((len(hypotheses), len(tests)))
        if not state.powered:
            doubt[:] = [_chip_doubt(board, test) for test in tests]
            draws, unsettled = self._dead(board, state, hypotheses, tests)
            return draws, doubt, 0, unsettled
        touched = [(test.point, test.point) if test.quantity == "current" else _pair(board, test) for test in tests]
        doubt = unmodelled_doubt(board, state, hypotheses, touched)
        elsewhere, unsure = 0, np.zeros((len(hypotheses), self.samples), dtype=bool)
        for loads, group in self._groups(board, state, tests).items():
            together = [tests[column] for column in group]
            found, answered = self._powered(board, state, hypotheses, loads)
            values = self._live(board, state, hypotheses, together, found, loads)
            elsewhere = max(elsewhere, answered)
            unsure |= ~found.settled
            for place, column in enumerate(group):
                draws[:, :, column] = to_scale(tests[column].quantity, values[:, :, place])
        return draws, doubt, elsewhere, int(unsure.sum())

    def _groups(self, board: Board, state: State, tests: Sequence[Test]) -> dict[Loads, list[int]]:
        """Meters that stand on the board at once, and the columns that a sweep with them answers."""
        found: dict[Loads, list[int]] = {}
        light = self._light_loads(board, state)
        for column, test in enumerate(tests):
            touched = {net for net, _ in _own_load(board, test)}
            if not _is_light(test):
                loads = _own_load(board, test)
            else:
                loads = light | _own_load(board, test) if touched & self._soft_nets(board, state)[0] else light
            found.setdefault(loads, []).append(column)
        return found

    def _light_loads(self, board: Board, state: State) -> Loads:
        """The usual meter on every net that a probe reaches and that the meter does not move."""
        soft, _ = self._soft_nets(board, state)
        return frozenset(one for one in _usual_meters(board) if one[0] not in soft)

    def _soft_nets(self, board: Board, state: State) -> tuple[frozenset[str], Floats]:
        """Nets to be read one at a time, and the volts of the healthy nominal board without a meter."""
        key = (id(board.elements), _felt(state))
        if key not in self._soft:
            condition = self._condition(board, powered=True)
            self._soft[key] = soft_nets(
                board, condition.equations, state, condition.parameters, _usual_meters(board),
                lambda meters: _meters(condition.equations, frozenset(meters)),
            )  # fmt: skip
        return self._soft[key]

    def _powered(self, board: Board, state: State, hypotheses: Sequence[Hypothesis], loads: Loads) -> tuple[Sweep, int]:
        """The sweep of a powered state with meters of some resistance on some nets."""
        key = (id(board.elements), _felt(state), loads)
        if key not in self._swept:
            self._swept[key] = self._powered_sweeps(board, state, loads)
        return self._swept[key](hypotheses)

    def _powered_sweeps(self, board: Board, state: State, loads: Loads) -> Swept:
        equations = self._condition(board, powered=True).equations
        extra = _meters(equations, loads)
        _, near = self._soft_nets(board, state)
        standing = Standing(board, equations, state, self._condition(board, powered=True).parameters, extra, near)

        def solve(new: Sequence[Hypothesis]) -> tuple[Sweep, int]:
            found = standing.sweep(new)
            if self.fallback is None or found.settled.all():
                return found, 0
            return self.fallback.complete(board, equations, state, new, standing.parameters, extra, found)

        return Swept(Borrowed(solve, lambda several: standing.first_sample.sweep(several)))

    def _live(
        self,
        board: Board,
        state: State,
        hypotheses: Sequence[Hypothesis],
        tests: Sequence[Test],
        found: Sweep,
        loads: Loads,
    ) -> Floats:
        """Readings of a powered state in their own units, shape (H, S, tests)."""
        condition = self._condition(board, powered=True)
        equations = condition.equations
        phasors = None
        if any(test.quantity in SIGNALS for test in tests):
            phasors = self._phasors(board, state, hypotheses, found, loads)
        columns = []
        for test in tests:
            if test.quantity == "current":
                columns.append(np.abs(found.volts[:, equations.branch_place[test.point]]))
                continue
            red, black = (equations.node_place[net] for net in _pair(board, test))
            if phasors is not None and test.quantity in SIGNALS:
                columns.append(_as_read(test.quantity, phasors[:, red] - phasors[:, black]))
            else:
                volts = found.volts[:, red] - found.volts[:, black]
                columns.append(_with_hum(volts, board.points[test.point].net, found))
        return np.stack(columns, axis=2)

    def _phasors(
        self, board: Board, state: State, hypotheses: Sequence[Hypothesis], found: Sweep, loads: Loads
    ) -> NDArray[np.complex128]:
        """Small signals with the same meters on the nets, NaN where a lane did not settle, shape (H, n + 1, S)."""
        condition = self._condition(board, powered=True)
        equations, meters = condition.equations, _meters(condition.equations, loads)
        together = max(1, int(engine_number("numpy_lanes")) // self.samples)
        answers = []
        for first in range(0, len(hypotheses), together):
            rows = range(first, min(first + together, len(hypotheses)))
            parameters = np.concatenate(
                [
                    moved(condition.parameters, [
                        *changes(board, equations, state, hypotheses[row]), *meters,
                        *_shunts(equations, found.floating[row]),
                    ])
                    for row in rows
                ],
                axis=1,
            )  # fmt: skip
            volts = np.concatenate(np.nan_to_num(found.volts[rows.start : rows.stop]), axis=1)
            answer = small_signal(board, equations, parameters, volts, state.hertz)
            answers.append(answer.reshape(len(answer), len(rows), self.samples).transpose(1, 0, 2))
        return np.where(found.settled[:, None, :], np.concatenate(answers), np.nan)

    def _dead(
        self, board: Board, state: State, hypotheses: Sequence[Hypothesis], tests: Sequence[Test]
    ) -> tuple[Floats, int]:
        """Meter readings on an unpowered board, scaled, shape (H, S, T), and the lanes that did not settle."""
        key = (id(board.elements), _pairs_of(board), _felt(state))
        if key not in self._dead_boards:
            condition = self._condition(board, powered=False)
            self._dead_boards[key] = DeadBoard(
                board, condition.equations, state, condition.parameters[:, :DEAD_SAMPLES]
            )  # fmt: skip
        dead = self._dead_boards[key]
        probes = [(_pair(board, test), _source(test)) for test in tests]
        return dead_draws(dead, hypotheses, [test.quantity for test in tests], probes, self.samples)

    def _condition(self, board: Board, *, powered: bool) -> _Condition:
        pairs = () if powered else _pairs_of(board)
        key = (id(board.elements), pairs, powered)
        if key not in self._conditions:
            equations = write_equations(board, powered=powered, pairs=pairs)
            healthy = sample_parameters(board, equations, self.samples)
            self._conditions[key] = _Condition(equations, with_sizes(equations, healthy, size_draws(self.samples)))
            self._boards.append(board)  # keeps the id in use
        return self._conditions[key]


def _pairs_of(board: Board) -> tuple[NetPair, ...]:
    """Where a meter may be laid on a dead board; a reading across a part adds its legs."""
    return tuple(sorted({(point.net, point.against) for point in board.points.values()}))


def _meters(equations: Equations, loads: Loads) -> list[Move]:
    """The moves that lay resistances from nets to ground."""
    return [
        (equations.parameter["tie", net], "set", 1.0 / ohm)
        for net, ohm in sorted(loads)
        if ("tie", net) in equations.parameter
    ]


def _shunts(equations: Equations, floating: frozenset[str]) -> list[Move]:
    """The moves that keep nets defined which nothing holds; a meter on them outweighs these by far."""
    shunt = engine_number("junction_shunt_s")
    return [(equations.parameter["tie", net], "add", shunt) for net in sorted(floating)]


def _with_hum(volts: Floats, net: str, found: Sweep) -> Floats:
    """Volts with the hum and leakage that a meter shows on a net that nothing holds, shape (H, S)."""
    loose = np.array([net in island for island in found.floating])
    spread = np.linspace(-1.0, 1.0, volts.shape[1]) * engine_number("floating_sd_v") * np.sqrt(3.0)
    return np.where(loose[:, None], volts + spread, volts)


def _as_read(quantity_key: str, phasor: NDArray[np.complex128]) -> Floats:
    """Peak amplitude to what the instrument shows: rms, or peak to peak."""
    size = np.abs(phasor)
    return size / np.sqrt(2.0) if quantity_key == "ac_voltage" else 2.0 * size


def _pair(board: Board, test: Test) -> NetPair:
    point = board.points[test.point]
    return point.net, point.against


def _is_supply(board: Board, name: str) -> bool:
    return name in board.elements and board.elements[name].kind == "V"


def _instrument(test: Test) -> Instrument:
    return instrument(test.instrument or quantity(test.quantity).default_instrument)


def _is_light(test: Test) -> bool:
    """Whether the meter hardly loads what it touches; a supply's own ammeter touches nothing."""
    return test.quantity == "current" or _instrument(test).input_ohm >= engine_number("light_meter_ohm")


def _source(test: Test) -> TestSource:
    meter = _instrument(test)
    source = meter.diode_source if test.quantity == "diode" else meter.ohms_source
    if source is None:
        raise BadInput(
            f"Cannot predict {test.quantity} at {test.point}", f"the instrument '{meter.key}', which applies nothing",
            "instruments with a test source of their own", "Name the meter that was used.",
        )  # fmt: skip
    return source


def _usual_meters(board: Board) -> Loads:
    """The usual meter on every net that a probe reaches."""
    ohm = instrument(quantity("voltage").default_instrument).input_ohm
    reachable = {net for point in board.points.values() if point.reachable for net in (point.net, point.against)}
    return frozenset((net, ohm) for net in reachable - {GROUND})


def _own_load(board: Board, test: Test) -> Loads:
    """The meter on the nets of one test; a supply's own ammeter touches nothing."""
    if test.quantity == "current":
        return frozenset()
    ohm = _instrument(test).loading_ohm(HEAVY_RANGE_V)
    return frozenset((net, ohm) for net in _pair(board, test) if net != GROUND)


def _felt(state: State) -> Hashable:
    """What of a state the circuit feels."""
    modes = tuple(sorted(state.modes.items()))
    supplies = tuple(sorted(state.supplies.items()))
    return state.powered, supplies, state.unplugged, state.lifted, state.renewed, modes


def _chip_doubt(board: Board, test: Test) -> float:
    """Chance that a dead-board reading is anything: chips on either net have junctions that no netlist shows."""
    nets = set(_pair(board, test)) - {GROUND}
    driven = {e.part for e in board.elements.values() if e.part and (e.kind in DRIVEN or e.stands_for_chip)}
    modelled = {element.part for element in board.elements.values()} - driven
    opaque = [
        p for p in board.parts.values() if p.ref not in modelled and len(p.pins) > 2 and nets & set(p.pins.values())
    ]
    return engine_number("chip_doubt") if opaque else 0.0
