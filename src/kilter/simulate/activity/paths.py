"""Blocks that pass a signal on: amplifier, mixer, switch, connector, lamp."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from kilter.measure.errors import BadInput
from kilter.simulate.activity.gates import inverted
from kilter.simulate.activity.signal import (
    FLOATING,
    NAN,
    STILL,
    Signal,
    any_doubt,
    choose,
    pulses,
    rests,
    stacked,
    unknown,
)
from kilter.simulate.activity.work import Work, everywhere


def amplifier(work: Work) -> Mapping[str, Signal]:
    """A moving input comes out times 'gain'; one that rests gives silence."""
    source = work.inputs.get("in", unknown())
    size = source.size * abs(work.number("gain"))
    louder = pulses(source.frequency, spread=source.spread, size=size)
    return everywhere(work, choose(source.moves, louder, rests(STILL)).doubted(source.doubt))


def mixer(work: Work) -> Mapping[str, Signal]:
    """Moves when any input moves; the frequency is known where only one does."""
    lines = stacked(work.arriving() or [unknown()])
    alone = lines.moves.sum(0) == 1
    frequency, spread, size = (
        np.where(lines.moves, field, 0.0).sum(0) for field in (lines.frequency, lines.spread, lines.size)
    )
    through = pulses(np.where(alone, frequency, NAN), spread=spread, size=np.where(alone, size, NAN))
    return everywhere(work, choose(lines.moves.any(0), through, rests(STILL)).doubted(any_doubt(*lines.doubt)))


def switch(work: Work) -> Mapping[str, Signal]:
    """Passes its input when the state has it closed; an open one leaves its output to itself."""
    return everywhere(work, work.inputs.get("in", unknown()) if work.closed else rests(FLOATING))


def connector(work: Work) -> Mapping[str, Signal]:
    """
    Each output is the input of the same name; one input and one output belong together whatever their names.

    Raises:
        BadInput: An output has no input of its name.
    """
    inputs, outputs = work.inputs, work.block.outputs
    if len(inputs) == len(outputs) == 1:
        return everywhere(work, *inputs.values())
    strange = [port for port in outputs if port not in inputs]
    if strange:
        doing, allowed = f"Cannot work out the block {work.block.name}", ", ".join(inputs) or "no inputs"
        raise BadInput(doing, f"the output port '{strange[0]}'", allowed, "Name each output as the input it carries.")
    return {port: inputs[port] for port in outputs}


def lamp(work: Work) -> Mapping[str, Signal]:
    """Shows its input as it is."""
    return everywhere(work, inverted(inverted(work.inputs.get("in", unknown()))))
