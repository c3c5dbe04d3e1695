"""Blocks that count: divider and binary counter."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from kilter.measure.errors import BadInput
from kilter.simulate.activity.signal import LOW, STILL, Signal, choose, pulses, rests, unknown
from kilter.simulate.activity.work import Work


def divider(work: Work) -> Mapping[str, Signal]:
    """Input frequency divided by 'divide'."""
    by = work.number("divide")
    if not by > 0:
        doing = f"Cannot work out the block {work.block.name}"
        raise BadInput(doing, f"divide = {by:g}", "a number above 0", "Correct 'divide' of the block.")
    return {port: _divided(work, by) for port in work.block.outputs}


def counter(work: Work) -> Mapping[str, Signal]:
    """Output qN is the input divided by 2^(N+1)."""
    return {port: _divided(work, 2.0 ** (_stage(work, port) + 1)) for port in work.block.outputs}


def _divided(work: Work, by: float) -> Signal:
    source = work.inputs.get("in", unknown())
    frequency = np.where(work.has("no_division"), source.frequency, source.frequency / by)
    counting = choose(source.moves, pulses(frequency, spread=source.spread), rests(STILL))
    free, doubt = work.released()
    return choose(free, counting.doubted(source.doubt), rests(LOW)).doubted(doubt)


def _stage(work: Work, port: str) -> int:
    if port[:1] == "q" and port[1:].isdigit():
        return int(port[1:])
    doing = f"Cannot work out the block {work.block.name}"
    raise BadInput(doing, f"the output port '{port}'", "q0, q1, q2 ...", "Name the ports of a counter by their stage.")
