"""Blocks around a processor, as roles rather than instruction sets: reset, processor, and all that moves when fed."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from kilter.simulate.activity.signal import (
    HIGH,
    LOW,
    STILL,
    Floats,
    Mask,
    Signal,
    any_doubt,
    choose,
    pulses,
    rests,
    stacked,
    unknown,
)
from kilter.simulate.activity.work import CERTAIN, Work, everywhere


def reset(work: Work) -> Mapping[str, Signal]:
    """Released where its needs are met, else held."""
    asserted = bool(work.number("asserted"))
    held, released = rests(HIGH if asserted else LOW), rests(LOW if asserted else HIGH)
    return everywhere(work, choose(work.met, released, held))


def processor(work: Work) -> Mapping[str, Signal]:
    """
    Moves its buses where it has a clock, a released reset and memory that answers.

    A port whose name begins with 'clock' gives the clock divided by 'divide', whatever the program does.
    """
    clock = work.inputs.get("clock", unknown())
    ticking = pulses(clock.frequency / work.number("divide"), spread=clock.spread)
    free, held_doubt = work.released()
    answers, data_doubt = _memory_answers(work)
    runs = clock.moves & free & answers
    bus = choose(runs, pulses(), rests(STILL)).doubted(any_doubt(clock.doubt, held_doubt))
    bus = bus.doubted(np.where(clock.moves & free, data_doubt, 0.0))
    beat = choose(clock.moves, ticking, rests(STILL)).doubted(clock.doubt)
    return {port: beat if port.startswith("clock") else bus for port in work.block.outputs}


def follower(work: Work) -> Mapping[str, Signal]:
    """Moves when all that feeds it moves, rests when nothing does; in between it is in doubt by 'partial_doubt'."""
    free, doubt = work.released()
    feeds = work.arriving("reset")
    if not feeds:
        return everywhere(work, choose(free, pulses(), rests(STILL)).doubted(doubt))
    lines = stacked(feeds)
    some, every = lines.moves.any(0), lines.moves.all(0)
    out = choose(some & free, pulses(), rests(STILL)).doubted(any_doubt(doubt, *lines.doubt))
    return everywhere(work, out.doubted(np.where(some & ~every & free, work.number("partial_doubt"), 0.0)))


def _memory_answers(work: Work) -> tuple[Mask, Floats]:
    """Where data arrive, and what doubt garbage or silence on the data lines puts on the processor."""
    data = work.arriving("clock", "reset")
    if not data:
        return np.ones((1, 1), np.bool_), CERTAIN
    lines = stacked(data)
    answers = np.asarray(lines.moves.all(0))
    garbage = any_doubt(*lines.doubt) * work.number("garbage_doubt")
    return answers, any_doubt(garbage, np.where(answers, 0.0, work.number("no_answer_doubt")))
