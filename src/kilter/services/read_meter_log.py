"""Read a meter log: how steady the value is, and the one reading it amounts to at a place of a board."""

from __future__ import annotations

from dataclasses import dataclass

from kilter.circuit.board import Board
from kilter.measure.errors import BadInput
from kilter.measure.instruments import instrument
from kilter.measure.measured import engineering
from kilter.measure.quantities import guess_quantity, quantity
from kilter.records.reading import Reading
from kilter.services.channel_places import place_named
from kilter.signals.meter_log import MeterLog, Steadiness, reading_uncertainty, steadiness


@dataclass(frozen=True)
class LogReading:
    """A reading with the figures behind it."""

    reading: Reading
    steady: Steadiness


def reading_of_log(
    log: MeterLog, board: Board, point: str, *, quantity_key: str = "", instrument_key: str = "", state: str = ""
) -> LogReading:
    """
    The reading that a log amounts to: its mean, with the meter's uncertainty and the spread over the log.

    Args:
        log: One column of a log file.
        board: With the point.
        point: A point, net or pin; a part, for what is read on a part.
        quantity_key: What was read; '' tells it from the unit.
        instrument_key: What read it; '' takes the usual instrument of the quantity.
        state: The state of the object; '' where only one fits the quantity.

    Raises:
        BadInput: No value, a quantity that cannot be told, or one that does not fit the unit or the state.
    """
    found = steadiness(log)
    what = quantity(quantity_key or _guess(log))
    if log.unit and log.unit != what.unit:
        raise _bad(log, f"values in {log.unit} for {what.key}", f"values in {what.unit or 'no unit'}",
                   "Check the quantity, or the setting of the meter.")  # fmt: skip
    if not found.entries and not found.over_limit:
        raise _bad(log, "no value", "at least one value", "Check that the meter was logging.")
    if found.entries and found.over_limit:
        raise _bad(log, f"{found.over_limit} entries over the limit among {found.entries} values",
                   "a log wholly within or wholly over the limit", "Split the log where it changes.")  # fmt: skip
    tool = instrument(instrument_key or what.default_instrument)
    value = found.mean.value
    own = tool.standard_uncertainty(what.key, value)
    reading = Reading(
        point=point if point in board.parts else place_named(point, board),
        quantity=what.key,
        value=value,
        uncertainty=reading_uncertainty(found, own) if found.entries else 0.0,
        state=_state(board, what.powered, state, log),
        instrument=tool.key,
        time=log.began,
        note=f"mean of {found.entries} entries of {log.source}{_drift_words(found, log.unit)}",
        place=log.source,
    )
    return LogReading(reading, found)


def _guess(log: MeterLog) -> str:
    guessed = guess_quantity(log.unit) if log.unit else None
    if guessed:
        return guessed
    raise _bad(log, f"the unit '{log.unit}', which does not tell what was read", "a unit such as V, A, ohm, Hz, degC",
               "Name the quantity.")  # fmt: skip


def _state(board: Board, powered: bool | None, name: str, log: MeterLog) -> str:
    fitting = [state.name for state in board.states.values() if powered in (None, state.powered)]
    if name:
        fitting = [one for one in fitting if one == board.state(name).name]
    if len(fitting) == 1:
        return fitting[0]
    raise _bad(log, f"the state '{name}'" if name else f"{len(fitting)} states that fit",
               ", ".join(state.name for state in board.states.values()), "Name the state it was read in.")  # fmt: skip


def _drift_words(found: Steadiness, unit: str) -> str:
    """The drift where there is one, and where it cannot be told."""
    if found.drift is None:
        return "; drift cannot be told"
    if not found.drifts:
        return f"; no drift seen over {engineering(found.hours * 3600.0, 's')}"
    return f"; drifts by {engineering(found.drift.value, unit)} an hour"


def _bad(log: MeterLog, found: str, allowed: str, do_next: str) -> BadInput:
    return BadInput(f"Cannot turn the log {log.source} into a reading", found, allowed, do_next)
