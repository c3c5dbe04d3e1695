"""Read an oscilloscope capture: what every channel tells, and the readings that follow at the places of a board."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kilter.circuit.board import Board
from kilter.measure.errors import BadInput
from kilter.measure.measured import Measured
from kilter.records.reading import Reading
from kilter.services.channel_places import channel_places
from kilter.services.evidence_of import make_test
from kilter.services.read_logic_capture import state_of
from kilter.signals.analyse import analyse
from kilter.signals.analysis import SINE, STATES, STEADY, Analysis
from kilter.signals.scope import Scope
from kilter.signals.settings import setting
from kilter.signals.waveform import Capture
from kilter.simulate.chain import usual_chain

INSTRUMENT = "scope"
QUANTITIES = ("frequency", "voltage", "ripple", "signal", "duty", "duration", "current", "level", "activity")
"""What a capture can be read as, the most telling first."""


@dataclass(frozen=True, eq=False)
class ChannelView:
    """A channel's analysis, or why there is none."""

    name: str
    analysis: Analysis | None
    unread: str = ""


@dataclass(frozen=True, eq=False)
class ScopeReadings:
    """
    What a capture says about a board.

    Args:
        readings: Ready to be weighed.
        places: Channel to point.
        silent: Channel to the reason why it gives no reading.
    """

    readings: tuple[Reading, ...]
    places: Mapping[str, str]
    silent: Mapping[str, str]


def analyse_capture(capture: Capture, scope: Scope | None = None) -> tuple[ChannelView, ...]:
    """Analyses every channel; one that is too short says so."""
    views = []
    for wave in capture.waveforms:
        try:
            views.append(ChannelView(wave.name, analyse(wave, scope)))
        except BadInput as error:
            views.append(ChannelView(wave.name, None, f"{error.found}; allowed: {error.allowed}"))
    return tuple(views)


def scope_readings(
    capture: Capture,
    views: Sequence[ChannelView],
    board: Board,
    *,
    said: Mapping[str, str] | None = None,
    state: str = "",
    time: str = "",
    who: str = "",
) -> ScopeReadings:
    """
    The readings of a capture at the places of a board, as far as the board can predict them.

    Args:
        capture: The file.
        views: Its analyses.
        board: Whose points, nets or pins the channels are placed on, by name or by `said`.
        said: Channel to place.
        state: The powered state the object was in; '' takes the only one.
        time: When it was captured, ISO 8601.
        who: Who captured it.

    Raises:
        BadInput: A channel, place or state that does not exist.
    """
    places = channel_places([view.name for view in views], board, said)
    name = state_of(board, state).name
    taken: list[Reading] = []
    silent: dict[str, str] = {}
    for view in views:
        if view.name not in places:
            continue
        found = _of_channel(capture, view, places[view.name], name, board, time, who)
        taken += found
        if not found:
            silent[view.name] = view.unread or "nothing on the board predicts what was read"
    return ScopeReadings(tuple(taken), places, silent)


def _of_channel(
    capture: Capture, view: ChannelView, point: str, state: str, board: Board, time: str, who: str
) -> list[Reading]:
    if view.analysis is None:
        return []
    told = told_quantities(view.analysis)
    readings: list[Reading] = []
    for quantity in QUANTITIES:
        if quantity not in told or (quantity in ("level", "activity") and readings):
            continue  # a word says nothing that the numbers do not
        test = make_test(board, point, quantity, state, INSTRUMENT)
        if usual_chain(board).answers(board, test):
            readings.append(_reading(capture, view.analysis, point, quantity, told[quantity], state, time, who))
    return readings


def told_quantities(analysis: Analysis) -> dict[str, Measured | str]:
    """What a channel can be read as: quantity key to value or word."""
    results = analysis.results
    unit = results["mean"].unit
    if unit == "A":
        return {"current": results["mean"]}
    if unit != "V":
        return {key: results[key] for key in ("frequency", "duty") if key in results}
    told: dict[str, Measured | str] = {key: results[key] for key in ("frequency", "duty") if key in results}
    told["voltage"] = results["mean"]
    told["ripple"] = results["peak_to_peak"]
    told["signal"] = _size(analysis)
    if "high_time" in results:
        told["duration"] = results["high_time"]
    word = _level(analysis)
    if word:
        told["level"] = word
    told["activity"] = "none" if analysis.kind == STEADY else "busy"
    if analysis.kind == STATES and "frequency" not in results:
        told["activity"] = "some"
    return told


def _size(analysis: Analysis) -> Measured:
    """Peak to peak without noise, where the waveform's kind allows."""
    results = analysis.results
    if analysis.kind == SINE:
        one = results["amplitude"]
        return Measured(2 * one.value, one.unit, 2 * one.uncertainty)
    return results["swing"] if analysis.kind == STATES else results["peak_to_peak"]


def _level(analysis: Analysis) -> str:
    """The logic level in words, for 5 V logic; '' where it is none."""
    if analysis.kind == STATES:
        results = analysis.results
        crosses = results["low"].value <= setting("logic_low") and results["high"].value >= setting("logic_high")
        return "pulsing" if crosses else ""
    if analysis.kind != STEADY:
        return ""
    mean = analysis.results["mean"]
    if mean.value + 2 * mean.uncertainty <= setting("logic_low"):
        return "low"
    if mean.value - 2 * mean.uncertainty >= setting("logic_high"):
        return "high"
    inside = setting("logic_low") < mean.value < setting("logic_high")
    return "between" if inside else ""


def _reading(
    capture: Capture,
    analysis: Analysis,
    point: str,
    quantity: str,
    value: Measured | str,
    state: str,
    time: str,
    who: str,
) -> Reading:
    number = value if isinstance(value, Measured) else None
    notes = [f"channel {analysis.name} of {capture.file}", f"SHA-256 {capture.sha256}", *analysis.doubts]
    suspect = ("Clipping", "Aliasing", "Two rates")
    return Reading(
        point=point,
        quantity=quantity,
        value=number.value if number else None,
        word="" if number else str(value),
        uncertainty=number.uncertainty if number else 0.0,
        state=state,
        instrument=INSTRUMENT,
        time=time,
        who=who,
        doubtful=any(words.startswith(suspect) for words in analysis.doubts),
        note="; ".join(notes),
        place=f"{capture.file} channel {analysis.name}",
    )
