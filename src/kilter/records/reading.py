"""A reading: what one instrument, or one pair of eyes, said at one point in one state."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Reading:
    """
    One line of evidence.

    Args:
        point: Where, a point name of the board; a part reference for what is seen or felt on a part.
        quantity: Key into the quantities data: voltage, resistance, diode, current, frequency, level, look...
        value: The number in the quantity's SI unit; None for a word. Over-limit reads as infinity.
        word: The category, such as 'pulsing'; '' for a number.
        uncertainty: Standard uncertainty (k = 1) in the same unit; 0 for a word.
        state: Name of the state the object was in.
        instrument: Key into the instruments data, or '' for not said.
        time: ISO 8601, UTC, or ''.
        who: Who took it.
        doubtful: The person who took it would not stake much on it.
        note: Free words.
        place: Where it was written down ('readings.csv line 4'), for error messages.
    """

    point: str
    quantity: str
    value: float | None
    word: str = ""
    uncertainty: float = 0.0
    state: str = ""
    instrument: str = ""
    time: str = ""
    who: str = ""
    doubtful: bool = False
    note: str = ""
    place: str = ""
