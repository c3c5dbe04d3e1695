"""From a description to a board: kinds, values and pin names of the parts, net names, and what follows from them."""

from __future__ import annotations

import re
from collections.abc import Mapping

from kilter.circuit.board import GROUND, Board
from kilter.circuit.inference import infer
from kilter.circuit.inference.ground import renamed
from kilter.circuit.inference.kinds import kind_of_type, kind_of_words
from kilter.importers.defaults import with_defaults
from kilter.importers.description import Connection, DescribedPart, Description
from kilter.importers.guesses import kind_from_name, kind_from_reference, kind_from_value, pins_of_kind
from kilter.importers.known_names import KnownNames
from kilter.importers.net_names import net_spellings
from kilter.importers.part_values import UNITS, number_of
from kilter.measure.tables import table
from kilter.parts.kinds import part_kinds
from kilter.records.part import Part

ESCAPE = re.compile(r"\{(slash|backslash|lt|gt|colon|dblquote|quote|bar|space|brace|tab|return|amp)\}")
ESCAPES = {
    "slash": "/", "backslash": "\\", "lt": "<", "gt": ">", "colon": ":", "dblquote": '"', "quote": "'", "bar": "|",
    "space": " ", "brace": "{", "tab": "\t", "return": "\n", "amp": "&",
}  # fmt: skip
"""Signs that new files write as a word in braces."""


def board_of(description: Description, *, ground: str = "") -> Board:
    """
    The board that a description is of, with its guesses listed and its doubts among the warnings.

    Args:
        description: As read.
        ground: Net that is ground; '' concludes it from the names.

    Raises:
        BadInput: There is no net of that name.
    """
    spelled = _spellings(description)
    guesses: list[str] = list(description.guesses)
    warnings: list[str] = list(description.warnings)
    parts = {part.ref: _part(part, spelled, description, guesses, warnings) for part in description.parts.values()}
    board = Board(
        description.title or description.file.rsplit(".", 1)[0], parts=parts, guesses=tuple(guesses),
        warnings=tuple(warnings), revision=description.revision,
        source=f"{description.file} ({description.form})",
    )  # fmt: skip
    board = _grounded(board, ground) if ground else board
    board, _ = infer(board, {part.ref: part.pin_count for part in description.parts.values() if part.pin_count})
    return with_defaults(board)


def _grounded(board: Board, ground: str) -> Board:
    """The board with a net as ground that its owner names, whatever the names say."""
    net = KnownNames("net", board.nets()).find(ground, f"Cannot read {board.source}", "the key 'ground'")
    if net == GROUND:
        return board
    return renamed(renamed(board, GROUND, "GND"), net, GROUND)


def _spellings(description: Description) -> dict[str, str]:
    """Net of the file to net of the board; two nets never become one."""
    nets = list(description.nets())
    plain = {net: ESCAPE.sub(lambda match: ESCAPES[match[1]], net) for net in nets}
    spelled = net_spellings(plain.values())
    chosen: dict[str, str] = {}
    taken: set[str] = set()
    for net in nets:
        name = spelled[plain[net]]
        while name in taken:
            name = name + "'"
        taken.add(name)
        chosen[net] = name
    return chosen


def _part(
    part: DescribedPart, spelled: Mapping[str, str], description: Description, guesses: list[str], warnings: list[str]
) -> Part:
    kind, why = _kind(part)
    number = number_of(kind, part.value)
    if kind == "capacitor" and kind_from_value("C", number):
        kind, why = "electrolytic", f"its value {part.value}"
    guesses.append(f"{part.ref} is taken as {part_kinds()[kind].words} because of {why}.")
    if number is None and kind in UNITS and description.has_values:
        line = f" line {part.line}" if part.line else ""
        warnings.append(f"{description.file}{line}: the value '{part.value}' of {part.ref} is not understood.")
    pins = {pin: Connection(spelled[one.net], one.function) for pin, one in part.pins.items()}
    place = description.layout.places.get(part.ref) if description.layout else None
    notes = ("kind guessed", *(("on the bottom side",) if place is not None and place.bottom else ()))
    return Part(part.ref, kind, _named_pins(kind, pins), part.value, number,
                position=place.position if place else None, notes=notes)  # fmt: skip


def _kind(part: DescribedPart) -> tuple[str, str]:
    """The kind of a part and the reason: its type, a word in its names, its reference."""
    match = re.match(r"[A-Za-z]*", part.ref)
    letters = match[0].upper() if match else ""
    words = [word for word in (*part.names[:1], part.value, *part.names[1:]) if word and letters]
    for word in words:
        kind = kind_of_type(word) if letters in table("board_inference")["chip_letters"]["letters"] else None
        kind = kind or kind_of_words(part.ref, word) or kind_from_name(word, letters[:1])
        if kind is not None and kind in part_kinds():
            return kind, f"the name {word}"
    kind = kind_from_reference(part.ref)
    return (kind, "its reference") if kind else ("chip", "nothing better: its reference tells nothing")


def _named_pins(kind: str, pins: Mapping[str, Connection]) -> dict[str, str]:
    """Pin name to net: the kind's names where the symbol's names tell them, else the numbers."""
    renamed = pins_of_kind(kind, [one.function for one in pins.values()]) or {}
    wanted = part_kinds()[kind].pins
    named: dict[str, str] = {}
    for number, one in sorted(pins.items(), key=lambda item: _natural(item[0])):
        name = renamed.get(one.function, "")
        named[name if name in wanted else number] = one.net
    return {pin: named.pop(pin) for pin in wanted if pin in named} | named


def _natural(pin: str) -> tuple[int, int, str]:
    return (0, int(pin), pin) if pin.isdecimal() and len(pin) < 9 else (1, 0, pin)
