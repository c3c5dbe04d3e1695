"""Blocks where something begins: given signals, supplies, regulators, oscillators."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from kilter.circuit.board import Block
from kilter.measure.errors import BadInput
from kilter.simulate.activity.block_kinds import values_of
from kilter.simulate.activity.signal import HIGH, LOW, NAN, STILL, UNPOWERED, Signal, choose, pulses, rests, unknown
from kilter.simulate.activity.work import Work, everywhere


def given(work: Work) -> Mapping[str, Signal]:
    """A number 'value', a 'frequency' (0 for steady), a steady 'level' (0 low, 1 high), or all unknown."""
    numbers = work.block.numbers
    if "value" in numbers:
        return everywhere(work, rests(HIGH if numbers["value"] else LOW, value=_whole(work.block)))
    if numbers.get("frequency", 0.0) > 0.0:
        return everywhere(work, pulses(numbers["frequency"], size=numbers.get("size", NAN)))
    if "level" in numbers:
        return everywhere(work, rests(HIGH if numbers["level"] else LOW, size=numbers.get("size", NAN)))
    return everywhere(work, rests(STILL) if "frequency" in numbers else unknown())


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


def _whole(block: Block) -> float:
    value, values = block.numbers["value"], values_of(block)
    if value == int(value) and 0 <= value < values:
        return float(value)
    doing = f"Cannot work out the block {block.name}"
    allowed = f"whole numbers from 0 to {values - 1}"
    raise BadInput(doing, f"value = {value:g}", allowed, "Correct the value, or raise 'values' of the block.")
