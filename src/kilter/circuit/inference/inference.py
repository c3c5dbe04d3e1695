"""One thing concluded about a board."""

from __future__ import annotations

from dataclasses import dataclass

GUESS, DOUBT = "guess", "doubt"
"""It may be corrected; it does not fit and wants a look."""


@dataclass(frozen=True, slots=True)
class Inference:
    """
    A conclusion.

    Args:
        rule: 'ground', 'rail', 'decoupling', 'pull-up', 'crystal', 'regulator' or 'supply pins'.
        subjects: The parts or nets it is about.
        words: A sentence that says why.
        level: GUESS or DOUBT.
    """

    rule: str
    subjects: tuple[str, ...]
    words: str
    level: str = GUESS
