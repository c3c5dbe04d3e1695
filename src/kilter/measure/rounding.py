"""How many digits of a value its uncertainty deserves."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Decimal, localcontext

ENOUGH = 700
"""Digits of the longest float written out in full."""


def uncertainty_digits(uncertainty: float) -> int:
    """
    Decimal place of the last digit worth printing: 2 for hundredths, -1 for tens.

    One significant digit, two where the first is a 1: the GUM (JCGM 100:2008, 7.2.6) asks for at most two, and so the
    last digit is never coarser than half of the uncertainty.

    >>> uncertainty_digits(0.0234), uncertainty_digits(0.0123), uncertainty_digits(47)
    (2, 3, -1)
    """
    digits, _, exponent = f"{uncertainty:.1e}".partition("e")
    return (1 if digits.startswith("1") else 0) - int(exponent)


def round_to(value: float, place: int) -> str:
    """
    The shortest true decimal of the value, rounded at a decimal place, ties to even (GUM leaves the choice open).

    >>> round_to(5.0312, 2), round_to(1234.0, -2), round_to(-0.001, 1)
    ('5.03', '1200', '0.0')
    """
    if not math.isfinite(value):
        return str(value)
    with localcontext() as context:
        context.prec = ENOUGH
        rounded = Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-place), rounding=ROUND_HALF_EVEN)
    return f"{rounded if rounded else abs(rounded):f}" if rounded or place > 0 else "0"
