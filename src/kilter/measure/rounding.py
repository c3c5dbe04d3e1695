"""How many digits of a value its uncertainty deserves."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Decimal


def uncertainty_digits(uncertainty: float) -> int:
    """
    Decimal place of the last digit worth printing: 2 for hundredths, -1 for tens.

    One significant digit, two where the first is a 1. The GUM (JCGM 100:2008, 7.2.6) asks for at most two; one
    digit that starts with 1 would be coarse by up to half. A second digit that rounds to nothing is left out.

    >>> uncertainty_digits(0.0234), uncertainty_digits(0.0123), uncertainty_digits(47)
    (2, 3, -1)
    """
    two = f"{uncertainty:.1e}"
    exponent = int(two.partition("e")[2])
    return 1 - exponent if two[0] == "1" and two[2] != "0" else -int(f"{uncertainty:.0e}".partition("e")[2])


def round_to(value: float, place: int) -> str:
    """
    The shortest true decimal of the value, rounded at a decimal place, ties to even (GUM leaves the choice open).

    >>> round_to(5.0312, 2), round_to(1234.0, -2), round_to(-0.001, 1)
    ('5.03', '1200', '0.0')
    """
    if not math.isfinite(value):
        return str(value)
    rounded = Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-place), rounding=ROUND_HALF_EVEN)
    return f"{rounded + 0:f}" if rounded else f"{abs(rounded):f}" if place > 0 else "0"
