"""Gates at the level of activity: which lines rest where, which move."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from kilter.simulate.activity.signal import (
    HIGH,
    LOW,
    NAN,
    PULSING,
    STILL,
    UNPOWERED,
    Signal,
    any_doubt,
    choose,
    pulses,
    rests,
    stacked,
    unknown,
)
from kilter.simulate.activity.work import Act, Work, everywhere


def conjunction(signals: Sequence[Signal]) -> Signal:
    """
    AND: one line that rests low decides; a moving line shows through where all others rest high.

    A moving line beside one whose level is not known may show or not, so nothing is known then.
    """
    lines = stacked(signals)
    low = np.isin(lines.level, (LOW, UNPOWERED))
    high, moves = lines.level == HIGH, lines.moves
    unsure = ~(low | high | moves).all(0)
    through = _moving(lines)
    rest = choose(high.all(0), rests(HIGH), rests(STILL))
    out = choose(moves.any(0), choose(unsure, unknown(), through), rest).doubted(any_doubt(*lines.doubt))
    held = rests(LOW).but(doubt=np.where(low, lines.doubt, 1.0).prod(0))
    return choose(low.any(0), held, out)


def parity(signals: Sequence[Signal]) -> Signal:
    """Exclusive OR: any moving line shows."""
    lines = stacked(signals)
    high, low = lines.level == HIGH, np.isin(lines.level, (LOW, UNPOWERED))
    known = choose(high.sum(0) % 2 == 1, rests(HIGH), rests(LOW))
    rest = choose((high | low).all(0), known, rests(STILL))
    return choose(lines.moves.any(0), _moving(lines), rest).doubted(any_doubt(*lines.doubt))


def inverted(signal: Signal) -> Signal:
    """NOT."""
    swapped = np.where(signal.level == HIGH, LOW, np.where(np.isin(signal.level, (LOW, UNPOWERED)), HIGH, STILL))
    return choose(signal.moves, signal, signal.but(level=swapped, size=NAN, value=NAN))


def disjunction(signals: Sequence[Signal]) -> Signal:
    """OR, by De Morgan's rule."""
    return inverted(conjunction([inverted(signal) for signal in signals]))


def same(signals: Sequence[Signal]) -> Signal:
    """Buffer: its first input, with the levels a driver gives."""
    return inverted(inverted(signals[0]))


def _moving(lines: Signal) -> Signal:
    """One moving line keeps its frequency; of several together the frequency is not known."""
    moves = lines.level == PULSING
    alone = moves.sum(0) == 1
    frequency = np.where(moves, lines.frequency, 0.0).sum(0)
    spread = np.where(moves, lines.spread, 0.0).sum(0)
    return pulses(np.where(alone, frequency, NAN), spread=np.where(alone, spread, 0.0))


def _gate(rule: str) -> Act:
    plain, negated = _RULES[rule.removeprefix("-")], rule.startswith("-")

    def act(work: Work) -> Mapping[str, Signal]:
        out = plain(work.arriving() or [unknown()])
        return everywhere(work, inverted(out) if negated else out)

    return act


_RULES = {"and": conjunction, "or": disjunction, "xor": parity, "buffer": same}

GATES: Mapping[str, Act] = {
    "gate_and": _gate("and"),
    "gate_nand": _gate("-and"),
    "gate_or": _gate("or"),
    "gate_nor": _gate("-or"),
    "gate_xor": _gate("xor"),
    "gate_not": _gate("-buffer"),
    "gate_buffer": _gate("buffer"),
}
