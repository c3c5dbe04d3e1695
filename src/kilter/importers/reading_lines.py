"""One line of a readings file: what it leaves out is inferred from the value, the instrument and the board's states."""

from __future__ import annotations

import math
from collections.abc import Mapping

from kilter.circuit.board import Board
from kilter.importers.reading_places import place_of
from kilter.importers.written_values import written_value
from kilter.measure.errors import BadInput
from kilter.measure.instruments import instrument
from kilter.measure.measured import Measured
from kilter.measure.quantities import Quantity, guess_quantity, quantities, quantity
from kilter.records.reading import Reading

COLUMNS = ("point", "quantity", "value", "uncertainty", "instrument", "state", "note", "time", "who", "doubtful")
TRUE = ("yes", "y", "true", "1", "x")
FALSE = ("", "no", "n", "false", "0")


def reading_of(words: Mapping[str, str], place: str, board: Board, doing: str) -> Reading:
    """
    The reading of one line.

    Args:
        words: By column; a column may be absent or empty.
        place: Where the line stands, for messages.
        board: Whose points, parts and states it names.
        doing: What is being read, for messages.

    Raises:
        BadInput: The line cannot be understood, or its quantity or state cannot be told.
    """
    try:
        return _reading(words, place, board)
    except BadInput as error:
        found = error.found if place in error.found else f"{error.found} at {place}"
        raise BadInput(doing, found, error.allowed, error.do_next) from None


def _reading(words: Mapping[str, str], place: str, board: Board) -> Reading:
    text = words.get("value", "").strip()
    if not text:
        raise _bad("a line without a value", "a value or a word such as pulsing", "Write what was read.")
    what, measured = _quantity_and_value(words.get("quantity", "").strip(), text)
    tool, uncertainty, note = _uncertainty(words, what, measured)
    return Reading(
        point=place_of(words.get("point", "").strip(), what.key, text.lower(), board),
        quantity=what.key,
        value=measured.value if measured else None,
        word="" if measured else _word(what, text),
        uncertainty=uncertainty,
        state=_state(words.get("state", "").strip(), what, board),
        instrument=tool,
        time=words.get("time", "").strip(),
        who=words.get("who", "").strip(),
        doubtful=_doubtful(words.get("doubtful", "").strip()),
        note="; ".join(part for part in (words.get("note", "").strip(), note) if part),
        place=place,
    )


def _quantity_and_value(name: str, text: str) -> tuple[Quantity, Measured | None]:
    if name:
        what = quantity("_".join(name.lower().split()))
        return what, written_value(text, what.unit) if what.numeric else None
    guessed = guess_quantity(text)
    if guessed and not quantity(guessed).numeric:
        return quantity(guessed), None
    measured = None
    try:
        measured = written_value(text)
    except BadInput:
        guessed = None
    guessed = guess_quantity(measured.unit) if measured and measured.unit else None
    if guessed is None:
        raise _bad(f"the value '{text}', which does not say what was read", ", ".join(quantities()),
                   "Name the quantity, or write the value with its unit.")  # fmt: skip
    return quantity(guessed), measured


def _word(what: Quantity, text: str) -> str:
    word = " ".join(text.lower().split())
    if what.categories and word not in what.categories:
        raise _bad(f"the word '{text}' for {what.key}", ", ".join(what.categories), "Use one of these words.")
    return word


def _uncertainty(words: Mapping[str, str], what: Quantity, measured: Measured | None) -> tuple[str, float, str]:
    """Instrument, standard uncertainty, and a note where the instrument was assumed."""
    named = words.get("instrument", "").strip()
    tool = instrument(named) if named else None
    if measured is None:
        return (tool.key if tool else "", 0.0, "")
    given = words.get("uncertainty", "").strip()
    if given:
        return (tool.key if tool else "", _given(given, what, measured), "")
    if measured.uncertainty > 0:
        return (tool.key if tool else "", measured.uncertainty, "")
    used = tool or instrument(what.default_instrument)
    value = used.standard_uncertainty(what.key, measured.value)
    note = "" if tool else f"uncertainty of the usual instrument ({used.key}) assumed"
    return (used.key, value, note)


def _given(text: str, what: Quantity, measured: Measured) -> float:
    """An uncertainty that was written down, in the quantity's unit or as a share of the value."""
    if text.endswith("%"):
        spread = written_value(text, "%").value * abs(measured.value)
    else:
        spread = written_value(text.lstrip("±+- ") or text, what.unit).value
    if not 0 <= spread < math.inf:
        raise _bad(f"the uncertainty '{text}'", "a finite uncertainty of 0 or more", "Correct the uncertainty.")
    return spread


def _state(name: str, what: Quantity, board: Board) -> str:
    if name:
        same = [state for state in board.states if state.lower() == name.lower()]
        state = board.state(name if name in board.states else same[0] if same else name)
        if what.powered is False and state.powered:
            raise _bad(f"a {what.key} reading in the powered state '{state.name}'",
                       ", ".join(s.name for s in board.states.values() if not s.powered),
                       "Name the unpowered state it was read in; if the board was powered, leave it out.")  # fmt: skip
        return state.name
    fitting = [state.name for state in board.states.values() if what.powered in (None, state.powered)]
    if what.powered is None:
        fitting = [name for name in fitting if not board.states[name].powered] or fitting
    if len(fitting) != 1:
        raise _bad(f"a {what.key} reading without a state", ", ".join(fitting) or ", ".join(board.states),
                   "Name the state it was read in.")  # fmt: skip
    return fitting[0]


def _doubtful(text: str) -> bool:
    if text.lower() in TRUE:
        return True
    if text.lower() in FALSE:
        return False
    raise _bad(f"'{text}' under doubtful", "yes or no", "Write yes or no.")


def _bad(found: str, allowed: str, do_next: str) -> BadInput:
    return BadInput("Cannot read a reading", found, allowed, do_next)
