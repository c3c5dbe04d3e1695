"""A trace from an oscilloscope: its scale first, then the block of samples."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kilter.live.block import HalfBlock, ask_block
from kilter.live.connection import Connection, NoAnswer
from kilter.live.profiles import ScopeProfile
from kilter.signals.waveform import Waveform

NUMBERS = 10
INTERVAL, START, INCREMENT, ORIGIN, REFERENCE = 4, 5, 7, 8, 9
"""Places in a preamble of ten numbers."""


@dataclass(frozen=True)
class Scale:
    """What a level and a sample stand for: interval and start [s], increment and origin [V or levels], reference."""

    interval: float
    start: float
    increment: float
    origin: float
    reference: float


def grab_trace(connection: Connection, profile: ScopeProfile, channel: int = 1) -> Waveform:
    """
    The trace that the instrument holds for one channel.

    Where the block breaks off, what arrived is returned with a warning that says so.

    Raises:
        NoAnswer: No scale, a scale that cannot be, or no sample at all.
    """
    for command in profile.before:
        connection.tell(command.replace("{channel}", str(channel)))
    scale = _scale(connection, profile)
    warnings: tuple[str, ...] = ()
    try:
        raw = ask_block(connection, profile.data)
    except HalfBlock as error:
        if not error.arrived:
            raise
        raw = error.arrived
        warnings = (f"The block broke off after {len(raw)} samples: {error.found}.",)
    levels = np.frombuffer(raw, np.int8 if profile.signed else np.uint8).astype(np.float64)
    if not len(levels):
        raise _bad(connection, "a block without samples", "samples", "Capture a trace on the instrument first.")
    if levels.min() == levels.max():
        warnings += ("Every sample is the same: the channel may be off, or the trace empty.",)
    elif {levels.min(), levels.max()} & ({-128.0, 127.0} if profile.signed else {0.0, 255.0}):
        warnings += ("Samples reach the end of the converter's range: the trace is clipped.",)
    return Waveform(
        f"channel {channel}", _volts(levels, scale, profile), scale.interval, scale.start, warnings=warnings
    )


def _volts(levels: np.ndarray, scale: Scale, profile: ScopeProfile) -> np.ndarray:
    above = levels - scale.reference
    if profile.levels_first:
        return np.asarray((above - scale.origin) * scale.increment)
    return np.asarray(above * scale.increment + scale.origin)


def _scale(connection: Connection, profile: ScopeProfile) -> Scale:
    if profile.each:
        found = {name: connection.ask_number(query) for name, query in profile.each.items()}
        scale = Scale(**found)
    else:
        scale = _of_preamble(connection, connection.ask(profile.preamble))
    if not (0.0 < scale.interval < 1e6 and 0.0 < abs(scale.increment) < 1e6 and abs(scale.origin) < 1e12):
        raise _bad(connection, f"an interval of {scale.interval:g} s and {scale.increment:g} V a level",
                   "an interval and a level above zero", "Choose another command family.")  # fmt: skip
    return scale


def _of_preamble(connection: Connection, answer: str) -> Scale:
    words = answer.split(",")
    try:
        numbers = [float(word) for word in words]
    except ValueError:
        numbers = []
    if len(numbers) != NUMBERS:
        raise _bad(connection, f"the preamble '{answer[:60]}'", f"{NUMBERS} numbers with commas between them",
                   "Choose another command family.")  # fmt: skip
    return Scale(numbers[INTERVAL], numbers[START], numbers[INCREMENT], numbers[ORIGIN], numbers[REFERENCE])


def _bad(connection: Connection, found: str, allowed: str, do_next: str) -> NoAnswer:
    return NoAnswer(f"Cannot take a trace from {connection.address}", found, allowed, do_next)
