"""Prove a repair: the acceptance list held against what was read since, each point at a stated risk."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from kilter.circuit.board import Board
from kilter.measure.instruments import instruments
from kilter.measure.measured import engineering
from kilter.measure.quantities import quantity
from kilter.measure.scales import from_scale, scaled_uncertainty, to_scale
from kilter.parts.kinds import modes_of
from kilter.planning.numbers import number
from kilter.planning.proof.decide import (
    ACCEPTED,
    CANNOT_TELL,
    OPEN,
    REJECTED,
    acceptance_interval,
    decide,
)
from kilter.planning.proof.risk import Risks, chance_accepted, risks
from kilter.records.reading import Reading
from kilter.services.acceptance_list import COUNTED, Item, acceptance_list
from kilter.services.visit_states import Deeds
from kilter.services.wording import said
from kilter.simulate.chain import Chain
from kilter.simulate.prediction import Fault
from kilter.simulate.reference.known_good import Key

DIGITS, COUNTED_DIGITS = 3, 6
"""Of limits, and of those of frequencies, which a counter reads to the sixth."""
CAUTIONS = (
    "An accepted list says that these points read as they should, at the stated risks. It does not say that the object "
    "is safe, nor that it will last: an inspection for electrical safety and a soak are works of their own.",
)


@dataclass(frozen=True)
class Proved:
    """
    One item judged.

    Args:
        item: What was to be read.
        reading: That was held against it; None for none.
        verdict: accepted, rejected, cannot tell or open.
        words: The reason, in a sentence.
        wrong: Chance that an accepted value lies outside its limits, or a rejected one within; NaN for others.
        risks: Of this measurement over healthy boards; None where it cannot be worked out.
        misses: For each fault, chance that the fault is still there and this item is accepted all the same.
        decides: Instruments with which the same reading would have told, where this one could not.
    """

    item: Item
    reading: Reading | None
    verdict: str
    words: str
    wrong: float
    risks: Risks | None
    misses: dict[Fault, float]
    decides: tuple[str, ...] = ()


@dataclass(frozen=True)
class Proof:
    """
    The whole list.

    Args:
        board: Title.
        faults: That the list is made to catch.
        items: Judged.
        risk: Most chance of a wrong verdict on one item.
        slips: For each fault, the largest chance that it is still there and all that was accepted would read so.
        not_whole: What was pulled or lifted and is not back, in sentences.
        stale: Items that were read before something was done to the object, and not since.
    """

    board: str
    faults: tuple[Fault, ...]
    items: tuple[Proved, ...]
    risk: float
    slips: dict[Fault, float]
    not_whole: tuple[str, ...]
    stale: tuple[Key, ...]

    def count(self, verdict: str) -> int:
        """Items of that verdict."""
        return sum(one.verdict == verdict for one in self.items)

    @property
    def verdict(self) -> str:
        """Rejected if one item is, accepted only if all are, open otherwise."""
        if self.count(REJECTED):
            return REJECTED
        whole = self.items and self.count(ACCEPTED) == len(self.items) and not self.not_whole
        return ACCEPTED if whole else OPEN

    @property
    def wrongly_accepted(self) -> float:
        """Accepted items that are to be expected outside their limits."""
        return math.fsum(one.wrong for one in self.items if one.verdict == ACCEPTED)

    def plain(self) -> dict[str, Any]:
        """As plain data."""
        return {
            "board": self.board, "verdict": self.verdict, "risk": self.risk, "wrongly_accepted": self.wrongly_accepted,
            "faults": [{"part": part, "mode": mode, "slips": self.slips.get((part, mode))}
                       for part, mode in self.faults],
            "not_whole": list(self.not_whole), "items": [_plain(one, self.stale) for one in self.items],
            "cautions": list(CAUTIONS),
        }  # fmt: skip


def faults_of(board: Board, named: Iterable[Fault], readings: Iterable[Reading]) -> tuple[Fault, ...]:
    """Faults to be caught: those named, and every mode of every part that was renewed and of which none is named."""
    found = tuple(dict.fromkeys(named))
    renewed = dict.fromkeys(one.point for one in readings if one.quantity == "done" and one.word == "renewed")
    rest = [part for part in renewed if part in board.parts and part not in {ref for ref, _ in found}]
    return found + tuple((part, mode.key) for part in rest for mode in modes_of(board.parts[part]))


def prove_repair(
    board: Board, items: Sequence[Item], faults: Sequence[Fault], readings: Sequence[Reading], risk: float
) -> Proof:
    """
    Holds the readings against the list.

    Args:
        board: As read.
        items: The acceptance list.
        faults: That it is made to catch.
        readings: In order, with what was done; only those after the last thing done count.
        risk: Most chance of a wrong verdict on one item.
    """
    done = [at for at, one in enumerate(readings) if one.quantity == "done"]
    last = done[-1] + 1 if done else 0
    since = _by_key(readings[last:])
    before = _by_key(readings[:last])
    judged = tuple(_judge(one, since.get(one.key, []), one.key in before, risk) for one in items)
    slips = {fault: min((one.misses[fault] for one in judged if fault in one.misses), default=1.0) for fault in faults}
    stale = tuple(one.key for one in items if one.key in before and one.key not in since)
    return Proof(board.name, tuple(faults), judged, risk, slips, _not_whole(readings), stale)


def proof_with(board: Board, chain: Chain, readings: Sequence[Reading]) -> Proof:
    """
    The usual list, made to catch what the parts that were renewed could have had, at the usual risk.

    Args:
        board: As read.
        chain: Its predictors.
        readings: In order, with what was done.
    """
    faults = faults_of(board, (), readings)
    items = acceptance_list(board, chain, faults, None, (), ())
    return prove_repair(board, items, faults, readings, number("proof", "risk"))


def _by_key(readings: Iterable[Reading]) -> dict[Key, list[Reading]]:
    found: dict[Key, list[Reading]] = {}
    for one in readings:
        found.setdefault((one.point, one.quantity, one.state), []).append(one)
    return found


def _not_whole(readings: Iterable[Reading]) -> tuple[str, ...]:
    deeds = Deeds()
    for one in readings:
        deeds = deeds.after(one) if one.quantity == "done" else deeds
    return tuple(f"{ref} is pulled and not back" for ref in sorted(deeds.unplugged)) + tuple(
        f"{pin} is lifted and not back" for pin in sorted(deeds.lifted)
    )


def _judge(item: Item, readings: Sequence[Reading], before: bool, risk: float) -> Proved:
    if not readings:
        words = "read only before the last thing done to the object: read it again" if before else "not read yet"
        return Proved(item, None, OPEN, words, math.nan, None, {})
    judged = [_one(item, one, risk) for one in readings]
    verdicts = {one.verdict for one in judged}
    if {ACCEPTED, REJECTED} <= verdicts:
        words = f"{len(readings)} readings that do not agree: perhaps it comes and goes"
        return Proved(item, readings[-1], CANNOT_TELL, words, math.nan, None, {})
    return judged[-1]


def _one(item: Item, reading: Reading, risk: float) -> Proved:
    if not item.known:
        return Proved(item, reading, CANNOT_TELL, "nothing says what it should read", math.nan, None, {})
    if reading.doubtful:
        words = "marked as doubtful by who took it: read it again"
        return Proved(item, reading, CANNOT_TELL, words, math.nan, None, {})
    return _word(item, reading) if reading.value is None else _number(item, reading, reading.value, risk)


def _word(item: Item, reading: Reading) -> Proved:
    chance = item.words.get(reading.word, 0.0)
    verdict = (ACCEPTED if chance >= number("proof", "word_likely") else
               REJECTED if chance < number("proof", "word_never") else CANNOT_TELL)  # fmt: skip
    words = f"a healthy board says so {chance:.0%} of the times"
    misses = {fault: chances.get(reading.word, 0.0) for fault, chances in item.faulty_words.items()}
    wrong = 0.0 if verdict == ACCEPTED else chance if verdict == REJECTED else math.nan
    return Proved(item, reading, verdict, words, wrong, None, misses if verdict == ACCEPTED else {})


def _number(item: Item, reading: Reading, value: float, risk: float) -> Proved:
    key = reading.quantity
    scaled = float(to_scale(key, np.array(value)))
    spread = float(scaled_uncertainty(key, value, reading.uncertainty))
    if value >= quantity(key).high and math.isinf(item.high):
        spread = 0.0  # over limit, and no end to what is accepted upwards: where the meter ends does not matter
    found = decide(scaled, spread, item.low, item.high, risk)
    accepts = acceptance_interval(spread, item.low, item.high, risk)
    before = (risks(*item.healthy, spread, (item.low, item.high), accepts)
              if accepts and spread > 0 and item.healthy[1] > 0 else None)  # fmt: skip
    misses = {fault: chance_accepted(mean, math.hypot(own, spread), accepts)
              for fault, (mean, own) in item.faulty.items() if accepts}  # fmt: skip
    wrong = 1 - found.chance if found.verdict == ACCEPTED else found.chance
    better = _deciding(key, value, found.largest_uncertainty) if found.verdict == CANNOT_TELL else ()
    words = f"within its limits with {found.chance:.1%}"
    if found.verdict == CANNOT_TELL:
        words += f"; a reading with an uncertainty below {_in_unit(key, value, found.largest_uncertainty)} would tell"
        words += f" ({', '.join(better)})" if better else ", which no instrument in the list gives"
        return Proved(item, reading, CANNOT_TELL, words, math.nan, before, {}, better)
    return Proved(item, reading, found.verdict, words, wrong, before, misses if found.verdict == ACCEPTED else {})


def _deciding(key: str, value: float, largest: float) -> tuple[str, ...]:
    """Instruments whose uncertainty at that value is small enough."""
    return tuple(
        name for name, one in instruments().items()
        if key in one.reads and one.covers(key, value)
        and float(scaled_uncertainty(key, value, one.standard_uncertainty(key, value))) <= largest
    )  # fmt: skip


def _in_unit(key: str, value: float, scaled: float) -> str:
    """A scaled uncertainty in the unit of the quantity, for people."""
    one = float(scaled_uncertainty(key, value, 1e-9)) / 1e-9
    return engineering(scaled / one if one > 0 else math.inf, quantity(key).unit, 2)


def limit_words(item: Item) -> str:
    """The limits of an item, for people."""
    if item.words:
        likely = [name for name, chance in item.words.items() if chance >= number("proof", "word_likely")]
        return " or ".join(likely) or "no word is likely"
    if not item.known:
        return "not known"
    what = quantity(item.test.quantity)
    digits = COUNTED_DIGITS if what.key in COUNTED else DIGITS
    low, high = (engineering(float(from_scale(what.key, one)), what.unit, digits) for one in (item.low, item.high))
    if math.isinf(item.high):
        return f"{low} or more" if math.isfinite(item.low) else "anything"
    return f"{low} to {high}" if math.isfinite(item.low) else f"{high} or less"


def _plain(one: Proved, stale: Sequence[Key]) -> dict[str, Any]:
    item, test = one.item, one.item.test
    ends = [end if math.isinf(end) else float(from_scale(test.quantity, end)) for end in (item.low, item.high)] \
        if item.known and not item.words else [math.nan, math.nan]  # fmt: skip
    return {
        "point": test.point, "quantity": test.quantity, "state": test.state, "unit": quantity(test.quantity).unit,
        "why": list(item.why), "low": ends[0], "high": ends[1], "words": dict(item.words), "source": item.source,
        "read": said(one.reading) if one.reading else "", "verdict": one.verdict, "because": one.words,
        "wrong": one.wrong, "consumer_risk": one.risks.consumer if one.risks else None,
        "producer_risk": one.risks.producer if one.risks else None, "decides": list(one.decides),
        "stale": item.key in stale,
        "misses": [{"part": part, "mode": mode, "chance": chance} for (part, mode), chance in one.misses.items()],
    }  # fmt: skip
