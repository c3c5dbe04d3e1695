"""Supply pins of chips: named where their place and their nets agree, doubted where they do not."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace

from kilter.circuit.board import GROUND, Board
from kilter.circuit.inference.inference import DOUBT, Inference
from kilter.circuit.inference.kinds import function_number
from kilter.measure.tables import table
from kilter.records.part import Part

NAMED = ("vcc", "gnd")
CHIPS = ("chip", "logic", "counter", "memory", "rom", "processor", "custom", "oscillator")


def name_supply_pins(
    board: Board, supplies: Mapping[str, bool], pin_counts: Mapping[str, int]
) -> tuple[Board, list[Inference]]:
    """
    The board with the supply pins of its chips named 'vcc' and 'gnd' where they can be told.

    Args:
        board: With ground named.
        supplies: Nets that are supplies.
        pin_counts: Pins of each part, connected or not; a part that is missing is not looked at by the corner rule.
    """
    parts: dict[str, Part] = dict(board.parts)
    found: list[Inference] = []
    for part in board.parts.values():
        if part.kind not in CHIPS or any(pin in part.pins for pin in NAMED):
            continue
        expected = _by_type(part, pin_counts.get(part.ref, 0))
        pins = expected or _by_nets(part, supplies)
        rule = "of its type" if expected else "of the nets they are on"
        if expected:
            found += _doubts(part, *expected, supplies)
        if pins and part.pins.get(pins[0]) in supplies and part.pins.get(pins[1]) == GROUND:
            parts[part.ref] = _renamed(part, *pins)
            words = f"The pins {pins[0]} and {pins[1]} of {part.ref} are taken as vcc and gnd because {rule}."
            found.append(Inference("supply pins", (part.ref,), words))
    return replace(board, parts=parts), found


def _by_type(part: Part, pin_count: int) -> tuple[str, str] | None:
    rules = table("board_inference")["supply_pins"]
    number = function_number(part.value)
    if number in rules["odd"]:
        supply, ground = rules["odd"][number]
        return str(supply), str(ground)
    corner = rules["corner"]
    if number and part.kind in corner["kinds"] and pin_count in corner["sizes"]:
        return str(pin_count), str(pin_count // 2)
    return None


def _by_nets(part: Part, supplies: Mapping[str, bool]) -> tuple[str, str] | None:
    """The one pin on a supply and the one on ground; None where there are several."""
    high = [pin for pin, net in part.pins.items() if net in supplies]
    low = [pin for pin, net in part.pins.items() if net == GROUND]
    return (high[0], low[0]) if len(high) == len(low) == 1 else None


def _doubts(part: Part, supply: str, ground: str, supplies: Mapping[str, bool]) -> Iterator[Inference]:
    for pin, wanted, good in (
        (supply, "a supply", part.pins.get(supply) in supplies),
        (ground, "ground", part.pins.get(ground) == GROUND),
    ):
        if not good:
            there = f"on {part.pins[pin]}" if pin in part.pins else "on no net"
            yield Inference("supply pins", (part.ref,), f"Pin {pin} of {part.ref} ({part.value}) should be on {wanted} "
                            f"and is {there}: another type, another package or a switched supply?", DOUBT)  # fmt: skip


def _renamed(part: Part, supply: str, ground: str) -> Part:
    names = {supply: "vcc", ground: "gnd"}
    pins = {names.get(pin, pin): net for pin, net in part.pins.items()}
    return replace(part, pins={name: pins.pop(name) for name in NAMED} | pins)


def size_of(part: Part) -> int:
    """The largest pin number of a part, for lists of pins without the unconnected ones."""
    numbers = [int(pin) for pin in part.pins if re.fullmatch(r"\d{1,3}", pin)]
    return max(numbers, default=0)
