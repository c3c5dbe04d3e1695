"""
Blocks of whole numbers: adder and multiplier, modulo the number of values they tell apart.

A line that rests low or high and stands for no number of its own counts as 0 or 1, so that gates may feed them.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from kilter.simulate.activity.block_kinds import values_of
from kilter.simulate.activity.signal import HIGH, LOW, NAN, STILL, Floats, Signal, any_doubt, rests, stacked, unknown
from kilter.simulate.activity.work import Work, everywhere


def adder(work: Work) -> Mapping[str, Signal]:
    """Sum of all inputs."""
    lines = _numbers(work)
    return everywhere(work, _number(work, lines.value.sum(0), any_doubt(*lines.doubt)))


def multiplier(work: Work) -> Mapping[str, Signal]:
    """Product of all inputs; one that is 0 decides, whatever the others are."""
    lines = _numbers(work)
    zero = lines.value == 0
    product = np.where(zero.any(0), 0.0, lines.value.prod(0))
    doubt = np.where(zero.any(0), np.where(zero, lines.doubt, 1.0).prod(0), any_doubt(*lines.doubt))
    return everywhere(work, _number(work, product, doubt))


def _numbers(work: Work) -> Signal:
    """What arrives, as numbers."""
    lines = stacked(work.arriving() or [unknown()])
    as_level = np.where(lines.level == LOW, 0.0, np.where(lines.level == HIGH, 1.0, NAN))
    return lines.but(value=np.where(np.isnan(lines.value), as_level, lines.value))


def _number(work: Work, value: Floats, doubt: Floats) -> Signal:
    """A number that is not known is in doubt altogether."""
    modulo = np.mod(value, values_of(work.block))
    return rests(STILL, value=modulo).but(doubt=np.where(np.isnan(modulo), 1.0, doubt))
