"""One text that a page shows, as a catalogue of translations names it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, order=True, slots=True)
class Message:
    """
    A text to translate.

    Args:
        text: In English; what it is looked up by.
        plural: The English words for more than one; '' where there is no count.
        context: Tells two texts with the same words apart; '' for most.
    """

    text: str
    plural: str = ""
    context: str = ""
