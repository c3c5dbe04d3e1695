"""What one rule of substitution says, and how findings add up to a verdict."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

FITS, CONDITIONS, UNKNOWN, NOT = "fits", "fits with conditions", "unknown", "does not fit"
VERDICTS = (FITS, CONDITIONS, UNKNOWN, NOT)
"""From the best to the worst; the worst finding is the verdict."""


@dataclass(frozen=True)
class Finding:
    """
    What one rule says.

    Args:
        rule: Its name, such as 'voltage'.
        verdict: One of VERDICTS.
        words: What was compared, with numbers.
        why: What goes wrong, or what to do about it.
        missing: Field that has to be known first, as 'offered volts'; '' where nothing is missing.
    """

    rule: str
    verdict: str
    words: str
    why: str = ""
    missing: str = ""


def verdict_of(findings: Iterable[Finding]) -> str:
    """
    The worst of the findings; unknown where there is none.

    >>> verdict_of([Finding("a", FITS, ""), Finding("b", CONDITIONS, "")]), verdict_of([])
    ('fits with conditions', 'unknown')
    """
    return max((one.verdict for one in findings), key=VERDICTS.index, default=UNKNOWN)


def lacking(rule: str, side: str, name: str, why: str = "") -> Finding:
    """The finding where a field was not said: unknown, never fits."""
    return Finding(rule, UNKNOWN, f"'{name}' of the {side} part is not said", why, f"{side} {name}")
