"""Blocks where something begins: given signals, supplies, regulators, oscillators."""

from __future__ import annotations

from collections.abc import Mapping
from math import isnan

import numpy as np

from kilter.circuit.board import Block
from kilter.measure.errors import BadInput
from kilter.simulate.activity.block_kinds import values_of
from kilter.simulate.activity.signal import HIGH, LOW, STILL, UNPOWERED, Signal, choose, pulses, rests, unknown
from kilter.simulate.activity.work import Work, everywhere


def given(work: Work) -> Mapping[str, Signal]:
    """A number 'value', a 'frequency' (0 for steady), a steady 'level' (0 low, 1 high), or all unknown."""
    value, frequency, level, size = (work.number(name) for name in ("value", "frequency", "level", "size"))
    if not isnan(value):
        return everywhere(work, rests(HIGH if value else LOW, value=_whole(work.block, value)))
    if frequency > 0.0:
        return everywhere(work, pulses(frequency, size=size))
    if not isnan(level):
        return everywhere(work, rests(HIGH if level else LOW, size=size))
    return everywhere(work, unknown() if isnan(frequency) else rests(STILL))


def supply(work: Work) -> Mapping[str, Signal]:
    """The nominal voltage."""
    return everywhere(work, _volts(work))


def regulator(work: Work) -> Mapping[str, Signal]:
    """The nominal voltage where enough arrives; a regulator that passes its input lets nearly all of it out."""
    source = work.inputs.get("in")
    if source is None:
        return everywhere(work, choose(work.has("passes"), unknown(), _volts(work)))
    nominal = np.float64(work.number("voltage"))
    reach = np.maximum(np.abs(source.size) - work.number("headroom"), 0.0)
    enough = np.isnan(source.size) | (reach >= abs(nominal))
    size = np.where(enough, nominal, np.copysign(reach, nominal))
    out = choose(source.level == HIGH, _volts(work).but(size=size), rests(UNPOWERED, size=0.0))
    out = choose(np.isin(source.level, (HIGH, LOW, UNPOWERED)), out, unknown())
    return everywhere(work, choose(work.has("passes"), source, out.doubted(source.doubt)))


def oscillator(work: Work) -> Mapping[str, Signal]:
    """Its frequency."""
    spread = work.number("tolerance") / 2.0
    return everywhere(work, pulses(work.number("frequency"), spread=spread, size=work.number("swing")))


def _volts(work: Work) -> Signal:
    return rests(HIGH, size=work.number("voltage"), spread=work.number("tolerance") / 2.0)


def _whole(block: Block, value: float) -> float:
    values = values_of(block)
    if value == int(value) and 0 <= value < values:
        return float(value)
    doing = f"Cannot work out the block {block.name}"
    allowed = f"whole numbers from 0 to {values - 1}"
    raise BadInput(doing, f"value = {value:g}", allowed, "Correct the value, or raise 'values' of the block.")
