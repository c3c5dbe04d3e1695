"""Read a logic capture: what every line does, and the readings that follow at the places of a board."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from kilter.circuit.board import Board, State
from kilter.measure.errors import BadInput
from kilter.measure.measured import Measured
from kilter.records.reading import Reading
from kilter.services.channel_places import channel_places
from kilter.services.evidence_of import make_test
from kilter.signals.line_activity import LineActivity, line_activity
from kilter.signals.logic_judgement import limit
from kilter.signals.logic_lines import LogicCapture
from kilter.signals.reset_course import reset_course
from kilter.simulate.chain import usual_chain

INSTRUMENT = "logic_analyzer"


@dataclass(frozen=True)
class CaptureView:
    """A capture with what each of its lines does, in the order of the file; bus lines are named 'bus[0]' and on."""

    capture: LogicCapture
    lines: Mapping[str, LineActivity]


@dataclass(frozen=True)
class CaptureReadings:
    """
    What a capture says about a board.

    Args:
        readings: At most one for each place, so that one look is not counted twice.
        places: Channel to point.
        elsewhere: Channels that stand for no place of the board.
        silent: Channel to the reason why it gives no reading.
    """

    readings: tuple[Reading, ...]
    places: Mapping[str, str]
    elsewhere: tuple[str, ...]
    silent: Mapping[str, str]


def look_at(capture: LogicCapture, *, time_base: float | None = None) -> CaptureView:
    """
    Looks at every line.

    Args:
        capture: From any of the readers.
        time_base: Relative standard uncertainty of the analyser's clock; None takes the usual one.
    """
    lines = {name: line_activity(line, capture, time_base=time_base) for name, line in capture.every_line().items()}
    return CaptureView(capture, lines)


def readings_at(
    view: CaptureView,
    board: Board,
    *,
    said: Mapping[str, str] | None = None,
    state: str = "",
    resets: Mapping[str, int] | None = None,
    time: str = "",
    who: str = "",
) -> CaptureReadings:
    """
    The readings of a capture at the places of a board.

    Args:
        view: Of the capture.
        board: Whose points, nets or pins the channels are named after, or placed on by `said`.
        said: Channel to place.
        state: The state the object was in; '' takes the only powered one.
        resets: Channels that are reset lines, with the level that resets: their first assertion is read as a duration
            where the board can predict one.
        time: When it was captured, ISO 8601.
        who: Who captured it.

    Raises:
        BadInput: A channel, place or state that does not exist, or a state that cannot be told.
    """
    places = channel_places(view.lines, board, said)
    name = state_of(board, state).name
    taken: list[Reading] = []
    silent: dict[str, str] = {}
    for channel, point in places.items():
        readings = _of_line(view, channel, point, name, resets or {})
        fitting = next((one for one in readings if _predicted(board, one)), None)
        if fitting is None:
            silent[channel] = "its level is not told" if not readings else "nothing on the board predicts what was read"
        elif any(one.point == point for one in taken):
            silent[channel] = f"another channel is read at {point} already"
        else:
            taken.append(replace(fitting, time=time, who=who))
    elsewhere = tuple(channel for channel in view.lines if channel not in places)
    return CaptureReadings(tuple(taken), places, elsewhere, silent)


def state_of(board: Board, name: str) -> State:
    """
    The powered state of that name, or the only one.

    Raises:
        BadInput: No such state, an unpowered one, or several to choose from.
    """
    if name:
        found = board.state(name)
        if found.powered:
            return found
    powered = [state for state in board.states.values() if state.powered]
    if not name and len(powered) == 1:
        return powered[0]
    raise BadInput("Cannot say in which state the object was read",
                   f"the unpowered state '{name}'" if name else f"{len(powered)} powered states",
                   ", ".join(state.name for state in powered) or "none: the board has no powered state",
                   "Name the powered state it was in.")  # fmt: skip


def _of_line(view: CaptureView, channel: str, point: str, state: str, resets: Mapping[str, int]) -> list[Reading]:
    """What the line could be read as, the most telling first."""
    line, found = view.lines[channel], list[Reading]()
    if channel in resets:
        course = reset_course(view.capture.every_line()[channel], view.capture, asserted=resets[channel])
        if course.length is not None and not course.at_least:
            found.append(_reading(view, line, point, "duration", state, course.length))
    if line.frequency is not None:
        found.append(_reading(view, line, point, "frequency", state, line.frequency))
    if line.word != "unknown":
        found.append(_reading(view, line, point, "level", state, line.word))
        found.append(_reading(view, line, point, "activity", state, line.activity or "none"))
    return found


def _reading(view: CaptureView, line: LineActivity, point: str, quantity: str, state: str,
             value: Measured | str) -> Reading:  # fmt: skip
    number = value if isinstance(value, Measured) else None
    brief = not line.changes and view.capture.length < limit("steady", "shortest_look")
    notes = [f"channel {line.name} of {view.capture.source}", *line.remarks]
    return Reading(
        point=point,
        quantity=quantity,
        value=number.value if number else None,
        word="" if number else str(value),
        uncertainty=number.uncertainty if number else 0.0,
        state=state,
        instrument=INSTRUMENT,
        doubtful=brief or line.known < 1.0 or bool(view.capture.gaps),
        note="; ".join(notes),
        place=f"{view.capture.source} channel {line.name}",
    )


def _predicted(board: Board, reading: Reading) -> bool:
    test = make_test(board, reading.point, reading.quantity, reading.state, reading.instrument)
    return usual_chain(board).answers(board, test)
