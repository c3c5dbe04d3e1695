"""What must be read before a repair is accepted: what the fault could have moved, rails, clocks and outputs."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from kilter.circuit.board import Board
from kilter.diagnose.settings import setting
from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.measure.scales import from_scale, scaled_range
from kilter.measure.student import coverage_factor
from kilter.planning.numbers import number
from kilter.records.test import Test
from kilter.services.evidence_of import candidate_of, make_test, width_of
from kilter.services.open_tests import open_tests
from kilter.services.visit_states import follow
from kilter.simulate.chain import Chain
from kilter.simulate.prediction import Fault, Hypothesis, Prediction
from kilter.simulate.reference.known_good import Key, KnownGood

RAIL, CLOCK, OUTPUT, MOVED, ASKED = "rail", "clock", "output", "the fault could have moved it", "asked for"
DECLARED, GOOD_BOARDS, PREDICTED, NOT_KNOWN = "board file", "known-good boards", "prediction", "not known"
SOUNDING = ("sound", "picture", "light")
"""Quantities by which an object shows what it does, the most telling first."""
SIGNAL = ("frequency", "activity", "level", "light")
"""Quantities that tell the same thing of a signal, the most telling first."""
COUNTED = ("frequency", "duty", "duration")
"""Quantities that blocks work out exactly, so that a model leaves nothing out."""


@dataclass(frozen=True)
class Item:
    """
    One thing to read, with what is accepted there.

    Args:
        test: Point, quantity and state.
        why: Why it is on the list.
        low, high: Limits, NaN where none are known; infinite for none. [scaled]
        words: Chance of each word on a healthy board, for words.
        source: Where the limits come from: DECLARED, GOOD_BOARDS, PREDICTED or NOT_KNOWN.
        healthy: Mean and spread over healthy boards, NaN where not known. [scaled]
        faulty: Mean and spread with each fault that it is held against; absent where nothing is predicted. [scaled]
        faulty_words: Chance of each word with each fault.
    """

    test: Test
    why: tuple[str, ...]
    low: float = math.nan
    high: float = math.nan
    words: Mapping[str, float] = field(default_factory=dict)
    source: str = NOT_KNOWN
    healthy: tuple[float, float] = (math.nan, math.nan)
    faulty: Mapping[Fault, tuple[float, float]] = field(default_factory=dict)
    faulty_words: Mapping[Fault, Mapping[str, float]] = field(default_factory=dict)

    @property
    def key(self) -> Key:
        """Point, quantity, state."""
        return self.test.point, self.test.quantity, self.test.state

    @property
    def known(self) -> bool:
        """Whether it is known what is accepted."""
        return bool(self.words) or not math.isnan(self.low)


def acceptance_list(
    board: Board, chain: Chain, faults: Sequence[Fault], known: KnownGood | None = None, also: Sequence[Key] = (),
    states: Sequence[str] = (),
) -> tuple[Item, ...]:  # fmt: skip
    """
    The list, rails first, then clocks, outputs, what the faults move, and what was asked for.

    Args:
        board: As read.
        chain: Its predictors.
        faults: That were found, or that the renewed parts could have had.
        known: Readings of known-good boards; they go before predictions.
        also: Further places, quantities and states.
        states: In which to read; unless given, those in which nothing is unplugged or lifted.

    Raises:
        BadInput: A state or quantity asked for that is not there.
    """
    board = follow(board, ()).board
    wanted: dict[Key, list[str]] = {}
    tests = _tests(board, chain, also, [board.state(name).name for name in states] or _whole(board))
    by_key = {(one.point, one.quantity, one.state): one for one in tests}
    found = _predictions(board, chain, faults, tests)
    for why, keys in ((RAIL, _rails(board, by_key)), (CLOCK, _clocks(board, by_key)), (OUTPUT, _outputs(board, by_key)),
                      (MOVED, _most_telling(_moved(board, found), SIGNAL)), (ASKED, also)):  # fmt: skip
        for key in keys:
            wanted.setdefault(key, []).append(why)
    return tuple(_item(board, by_key[key], tuple(why), found.get(key), faults, known) for key, why in wanted.items())


def _whole(board: Board) -> list[str]:
    return [one.name for one in board.states.values() if one.offered and not one.unplugged and not one.lifted]


def _tests(board: Board, chain: Chain, also: Iterable[Key], states: Sequence[str]) -> list[Test]:
    most = number("proof", "most_grade")
    tests = [one for one in open_tests(follow(board, ()), chain) if one.grade <= most and one.state in states]
    there = {(one.point, one.quantity, one.state) for one in tests}
    for rail in board.rails.values():
        tests += [make_test(board, name, "voltage", state.name) for name, point in board.points.items()
                  if point.net == rail.net and point.reachable for state in board.states.values()
                  if state.powered and state.name in states and (name, "voltage", state.name) not in there]  # fmt: skip
    for point, key, state in also:
        if point not in board.points and point not in board.parts and point not in board.elements:
            raise BadInput("Cannot make an acceptance list", f"the place '{point}'", ", ".join(board.points),
                           "Use a point or part of this board.")  # fmt: skip
        quantity(key)
        board.state(state)
        if (point, key, state) not in there:
            tests.append(make_test(board, point, key, state))
    return tests


@dataclass(frozen=True)
class _Column:
    """A test's column of a prediction whose first row is a healthy board, and then one for each fault."""

    prediction: Prediction
    at: int

    def numbers(self, row: int) -> tuple[float, float] | None:
        """Mean and spread; None where nothing is predicted."""
        unknown = float(np.nan_to_num(self.prediction.unknown[row, self.at], nan=1.0))
        mean = float(self.prediction.mean[row, self.at])
        if unknown > number("proof", "unknown") or not math.isfinite(mean):
            return None
        return mean, float(self.prediction.spread[row, self.at])

    def words(self, row: int) -> dict[str, float] | None:
        """Chance of each word; None where it is no word or nothing is predicted."""
        unknown = float(np.nan_to_num(self.prediction.unknown[row, self.at], nan=1.0))
        if self.at not in self.prediction.words or unknown > number("proof", "unknown"):
            return None
        names, table = self.prediction.words[self.at]
        return {name: float(chance) for name, chance in zip(names, table[row], strict=True)}

    @property
    def is_words(self) -> bool:
        """Whether it is read as a word."""
        return self.at in self.prediction.words


def _predictions(board: Board, chain: Chain, faults: Sequence[Fault], tests: Sequence[Test]) -> dict[Key, _Column]:
    hypotheses: list[Hypothesis] = [frozenset(), *(frozenset({one}) for one in faults)]
    found: dict[Key, _Column] = {}
    for state in board.states.values():
        here = [one for one in tests if one.state == state.name and chain.answers(board, one)]
        if here:
            told = chain.predict(board, state, hypotheses, here)
            found |= {(one.point, one.quantity, one.state): _Column(told, at) for at, one in enumerate(here)}
    return found


def _rails(board: Board, tests: Mapping[Key, Test]) -> list[Key]:
    nets = {rail.net for rail in board.rails.values()}
    return [key for key in tests if key[1] == "voltage" and key[0] in board.points and board.points[key[0]].net in nets
            and board.points[key[0]].against == "0" and board.states[key[2]].powered]  # fmt: skip


def _clocks(board: Board, tests: Mapping[Key, Test]) -> list[Key]:
    signals = {name for one in board.blocks.values() if one.kind == "oscillator" for name in one.outputs.values()}
    return [key for key in tests if key[0] in signals and key[1] == "frequency"]


def _outputs(board: Board, tests: Mapping[Key, Test]) -> list[Key]:
    """What an object shows, and the signals of blocks that no other block listens to."""
    heard = {name for one in board.blocks.values() for name in one.inputs.values()}
    last = {name for one in board.blocks.values() for name in one.outputs.values()} - heard
    shown = _most_telling([key for key in tests if key[1] in SOUNDING], SOUNDING)
    places = {key[0] for key in shown}
    return shown + [key for key in tests if key[0] in last - places and key[1] == "activity"]


def _most_telling(keys: Iterable[Key], order: Sequence[str]) -> list[Key]:
    """Of quantities that tell the same thing of a point, the most telling one; all others as they are."""
    best: dict[tuple[str, str], Key] = {}
    keys = list(keys)
    for key in sorted((one for one in keys if one[1] in order), key=lambda one: order.index(one[1])):
        best.setdefault((key[0], key[2]), key)
    return [key for key in keys if key[1] not in order or best[key[0], key[2]] == key]


def _moved(board: Board, found: Mapping[Key, _Column]) -> list[Key]:
    return [key for key, column in found.items()
            if any(_moves(board, column, row) for row in range(1, len(column.prediction.mean)))]  # fmt: skip


def _moves(board: Board, column: _Column, row: int) -> bool:
    """
    Whether the fault of that row moves the reading so far that the usual instrument shows it.

    What nobody can tell with the fault may have moved.
    """
    if column.is_words:
        said, would = column.words(0), column.words(row)
        if said is None or would is None:
            return said is not None
        return sum(min(said[name], would[name]) for name in said) < number("proof", "words_moved")
    one, other = column.numbers(0), column.numbers(row)
    if one is None or other is None:
        return one is not None
    test = column.prediction.tests[column.at]
    meter = candidate_of(board, test, float(from_scale(test.quantity, one[0]))).sd
    wide = math.hypot(one[1], _left_out(board, test.quantity), meter)
    return abs(other[0] - one[0]) > number("proof", "moved") * wide


def _left_out(board: Board, quantity_key: str) -> float:
    """Standard deviation that any model leaves out. [scaled]"""
    if quantity_key in COUNTED:
        return 0.0
    return setting("model_error") * width_of(board, quantity_key)


def _item(
    board: Board, test: Test, why: tuple[str, ...], column: _Column | None, faults: Sequence[Fault],
    known: KnownGood | None,
) -> Item:  # fmt: skip
    key = test.point, test.quantity, test.state
    faulty = {one: found for at, one in enumerate(faults, 1)
              if column is not None and (found := column.numbers(at)) is not None}  # fmt: skip
    said = {one: chances for at, one in enumerate(faults, 1)
            if column is not None and (chances := column.words(at)) is not None}  # fmt: skip
    if not quantity(test.quantity).numeric:
        if known is not None and key in known.words:
            return Item(test, why, words=known.words[key].chances, source=GOOD_BOARDS, faulty_words=said)
        likely = column.words(0) if column is not None else None
        return Item(test, why, words=likely or {}, source=PREDICTED if likely else NOT_KNOWN, faulty_words=said)
    healthy = column.numbers(0) if column is not None else None
    low, high, source = _limits(board, test, healthy, known)
    return Item(test, why, low, high, {}, source, healthy or (math.nan, math.nan), faulty)


def _limits(
    board: Board, test: Test, healthy: tuple[float, float] | None, known: KnownGood | None
) -> tuple[float, float, str]:
    key = test.point, test.quantity, test.state
    if test.quantity == "voltage" and test.point in board.points and board.states[test.state].powered:
        point = board.points[test.point]
        rail = next((one for one in board.rails.values() if one.net == point.net and point.against == "0"), None)
        if rail is not None:
            return rail.low, rail.high, DECLARED
    width = number("proof", "limit_width")
    if known is not None and key in known.numbers:
        good = known.numbers[key]
        half = good.scale * coverage_factor(good.dof, math.erf(width / math.sqrt(2)))
        return *_open_ends(test.quantity, good.mean - half, good.mean + half), GOOD_BOARDS
    if healthy is not None:
        half = width * math.hypot(healthy[1], _left_out(board, test.quantity))
        return *_open_ends(test.quantity, healthy[0] - half, healthy[0] + half), PREDICTED
    return math.nan, math.nan, NOT_KNOWN


def _open_ends(quantity_key: str, low: float, high: float) -> tuple[float, float]:
    """Limits beyond an end of the scale are none: over limit is over limit, and nothing is below nothing."""
    bottom, top = scaled_range(quantity_key)
    return low if low > bottom else -math.inf, high if high < top else math.inf
