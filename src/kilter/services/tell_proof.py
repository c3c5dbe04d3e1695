"""The proof of a repair, and what a soak told, as a dossier hands them over."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from kilter.circuit.board import Board
from kilter.measure.quantities import quantity
from kilter.measure.scales import from_scale, scaled_uncertainty
from kilter.planning.proof.decide import acceptance_interval
from kilter.planning.soak.channel import Channel
from kilter.records.dossier_proof import ToldAcceptance, ToldChannel, ToldItem, ToldSession, ToldSoak
from kilter.services.acceptance_list import Item
from kilter.services.prove_repair import Proof, Proved, limit_words
from kilter.services.tell_soak import proved_words
from kilter.services.wording import mode_words, said


def acceptance_of(board: Board, found: Proof, visit: int = 1) -> ToldAcceptance:
    """
    The list as it is handed over.

    Args:
        board: For words of faults.
        found: Judged.
        visit: Number of the visit.
    """
    faults = tuple(f"{fault[0]} {mode_words(board, fault)}" for fault in found.faults)
    items = tuple(_item(one, found.risk) for one in found.items)
    return ToldAcceptance(visit, found.verdict, found.risk, items, faults, found.wrongly_accepted, found.not_whole)


def _item(one: Proved, risk: float) -> ToldItem:
    item, test = one.item, one.item.test
    numbers = item.known and not item.words
    low, high = (_end(test.quantity, end) if numbers else None for end in (item.low, item.high))
    accepts = _accepts(one, item, risk) if numbers else None
    ends = [_end(test.quantity, end) for end in accepts] if accepts is not None else [None, None]
    return ToldItem(
        test.point, test.quantity, test.state, quantity(test.quantity).unit if numbers else "", low, high,
        limit_words(item), item.source, ends[0], ends[1], accepts is not None,
        said(one.reading) if one.reading is not None else "", one.verdict, one.words,
    )  # fmt: skip


def _end(key: str, scaled: float) -> float | None:
    value = float(from_scale(key, np.array(scaled))) if math.isfinite(scaled) else math.inf
    return value if math.isfinite(value) else None


def _accepts(one: Proved, item: Item, risk: float) -> tuple[float, float] | None:
    reading = one.reading
    if reading is None or reading.value is None or not math.isfinite(reading.value):
        return None
    spread = float(scaled_uncertainty(reading.quantity, reading.value, reading.uncertainty))
    return acceptance_interval(spread, item.low, item.high, risk)


def soak_of(
    visit: int, told: Mapping[str, Any] | None, *, planned: float = 0.0, state: str = "",
    channels: Iterable[Channel] = (), logs: Iterable[str] = (), words: str = "", at: str = "", who: str = "",
) -> ToldSoak:  # fmt: skip
    """
    A soak as it is handed over.

    Args:
        visit: Number of the visit.
        told: As `kilter.services.tell_soak.told_soak` makes it; None where nothing was judged.
        planned: Hours. [h]
        state: Of the object.
        channels: Planned.
        logs: SHA-256 of the logs that were judged.
        words: Of who recorded it.
        at, who: When and by whom it was recorded, or planned.
    """
    plan = tuple(ToldChannel(one.name, one.unit, _limit(one.low), _limit(one.high), words=one.why) for one in channels)
    if told is None:
        return ToldSoak(visit, planned, state, plan, at=at, who=who)
    return ToldSoak(
        visit, planned, state, plan, told["verdict"], tuple(logs), tuple(_session(one) for one in told["sessions"]),
        told["hours"], told["failures"],
        tuple((one["confidence"], one["least_mtbf_hours"]) for one in told["proofs"]), told["least_switch_on"],
        proved_words(dict(told)), tuple(told["open"]), words, at, who,
    )  # fmt: skip


def _limit(end: float) -> float | None:
    return end if math.isfinite(end) else None


def _session(one: Mapping[str, Any]) -> ToldSession:
    rows = tuple(ToldChannel(row["channel"], row["unit"], row["low"], row["high"], row["values"], row["verdict"],
                             row["words"]) for row in one["channels"])  # fmt: skip
    return ToldSession(one["source"], one["hours"], one["gaps"], rows, tuple(one["missing"]))
