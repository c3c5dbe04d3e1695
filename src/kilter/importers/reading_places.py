"""Where a reading was taken: a point of the board, a pin that a point covers, a part, or a supply for its current."""

from __future__ import annotations

from kilter.circuit.board import GROUND, Board
from kilter.importers.known_names import KnownNames
from kilter.measure.errors import BadInput
from kilter.measure.tables import table


def place_of(word: str, quantity_key: str, value: str, board: Board) -> str:
    """
    The name of the place as the board spells it.

    Args:
        word: As written: a point, a net or pin that a point stands for, or a part.
        quantity_key: What was read; only some quantities can be read on a part.
        value: What was done, for the quantity 'done'.
        board: Whose names count.

    Raises:
        BadInput: No such place, or one where that cannot be read; the message lists near names.
    """
    if not word:
        raise BadInput("Cannot read a reading", "a line without a point", "a point of the board", "Write the point.")
    on_part = quantity_key in table("guesses")["readings"]["on_parts"]
    if quantity_key == "done":
        known = KnownNames("pin", _pins(board)) if value == "lifted" else KnownNames("part", board.parts)
        return _find(known, word)
    if quantity_key == "current" and (supply := KnownNames("supply", _supplies(board)).get(word)):
        return supply
    found = KnownNames("point", board.points).get(word) or _point_of_net(board, word) or _point_of_pin(board, word)
    part = KnownNames("part", board.parts).get(word)
    if found is None and part is not None and not on_part:
        raise BadInput(
            "Cannot read a reading", f"{quantity_key} on the part '{part}', which has several places for a probe",
            ", ".join(board.points) or "no point: the board has none",
            f"Name a point, or a pin such as {_example(board, part)}.",
        )  # fmt: skip
    if found is not None or (part is not None and on_part):
        return found or str(part)
    names = [*board.points, *(board.parts if on_part else ()), *(_supplies(board) if quantity_key == "current" else ())]
    return _find(KnownNames("point", names), word)


def _find(known: KnownNames, word: str) -> str:
    """The place; errors carry no place of their own, the line adds it."""
    try:
        return known.find(word, "Cannot read a reading", "")
    except BadInput as error:
        found = f"the {known.what} '{word}', which the board does not have"
        raise BadInput(error.doing, found, error.allowed, error.do_next) from None


def _pins(board: Board) -> list[str]:
    return [f"{part.ref}.{pin}" for part in board.parts.values() for pin in part.pins]


def _supplies(board: Board) -> list[str]:
    """The sources that stand for a supply, whose own ammeter is read."""
    return [element.name for element in board.elements.values() if element.kind == "V" and not element.part]


def _point_of_pin(board: Board, word: str) -> str | None:
    pin = KnownNames("pin", _pins(board)).get(word)
    if pin is None:
        return None
    ref, _, name = pin.partition(".")
    return _point_of_net(board, board.parts[ref].pins[name])


def _point_of_net(board: Board, net: str) -> str | None:
    """The point on a net, read against ground."""
    low = net.lower()
    return next((p.name for p in board.points.values() if p.net.lower() == low and p.against == GROUND), None)


def _example(board: Board, ref: str) -> str:
    return next((f"{ref}.{pin}" for pin in board.parts[ref].pins), "U4.12")
