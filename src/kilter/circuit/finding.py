"""A finding: one thing about a board that a person should look at."""

from __future__ import annotations

from dataclasses import dataclass

WRONG, DOUBT, NOTE = "wrong", "doubt", "note"
LEVELS = (WRONG, DOUBT, NOTE)
"""Gravest first: predictions cannot be had or cannot be relied on; they may be off; something was guessed."""


@dataclass(frozen=True, slots=True)
class Finding:
    """
    One thing worth a look.

    Args:
        level: One of LEVELS.
        subject: The net, part, point or block it is about.
        words: A sentence.
    """

    level: str
    subject: str
    words: str
