"""Numbers and fault classes of data/memory.toml, and the chance of so many wrong bits under a Beta prior."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import exp, lgamma, log

from kilter.measure.tables import table


def number(key: str) -> float:
    """One number of the data file, by key."""
    return float(table("memory")["numbers"][key]["value"])


@dataclass(frozen=True, slots=True)
class FaultClass:
    """
    One way in which contents are wrong.

    Args:
        key: Such as 'address_stuck_low'.
        words: With {0} and {1} for places.
        share: Prior share among the faults of a suspected memory.
        part: Whether a failed part makes it; else wiring, reading or programming does.
        next: What to do to confirm it.
    """

    key: str
    words: str
    share: float
    part: bool
    next: str


@cache
def fault_classes() -> Mapping[str, FaultClass]:
    """Every class of the data file, by key."""
    return {key: FaultClass(key=key, **entry) for key, entry in table("memory")["faults"].items()}


def log_share(wrong: float, of: float, right_weight: float, wrong_weight: float = 1.0) -> float:
    """
    Log chance of one sequence of `of` bits with `wrong` wrong ones, their share unknown with a Beta prior.

    Args:
        wrong: Bits that are wrong; may be an estimate.
        of: All bits.
        right_weight: Second parameter of the prior: the larger, the fewer wrong bits are expected.
        wrong_weight: First parameter.

    >>> round(log_share(0, 1, 1.0), 4)      # one bit, nothing known: one half
    -0.6931
    """
    a, b = wrong_weight + wrong, right_weight + of - wrong
    return (lgamma(a) + lgamma(b) - lgamma(a + b)) - (
        lgamma(wrong_weight) + lgamma(right_weight) - lgamma(wrong_weight + right_weight)
    )


def log_beside(wrong: float, of: float) -> float:
    """Log chance of what a named fault leaves unexplained: nothing, when it comes alone, or single cells besides."""
    alone, cells = number("alone"), log_share(wrong, of, number("cell_errors"))
    return log(alone + (1 - alone) * exp(cells)) if wrong <= 0 else log(1 - alone) + cells
