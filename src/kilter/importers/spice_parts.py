"""Parts of a SPICE netlist: one for each top-level element that a hand could touch, one for each top-level call."""

from __future__ import annotations

from dataclasses import replace

from kilter.circuit.board import Element
from kilter.importers.guesses import kind_from_letter, kind_from_name, kind_from_value, pins_of_kind
from kilter.importers.spice_cards import Card
from kilter.importers.spice_expand import Call, Circuit
from kilter.importers.spice_numbers import spice_number
from kilter.measure.measured import engineering
from kilter.parts.kinds import part_kinds
from kilter.records.part import Part

PINS = {"R": ("1", "2"), "C": ("1", "2"), "L": ("1", "2"), "D": ("a", "k"), "Q": ("c", "b", "e"),
        "J": ("d", "g", "s"), "M": ("d", "g", "s", "b")}  # fmt: skip
"""Pin names by SPICE letter; letters that are not here stand for the outside world and are no parts."""
UNITS = {"R": "ohm", "C": "F", "L": "H"}


def parts_of(circuit: Circuit) -> tuple[dict[str, Part], dict[str, Element]]:
    """
    The parts of a circuit, and its elements with the part that each belongs to.

    What is guessed is added to the circuit's notes.
    """
    parts: dict[str, Part] = {}
    elements = dict(circuit.elements)
    calls = iter(circuit.calls.values())
    for card, own in circuit.cards:
        letter = card.name[0].upper()
        if letter == "X":
            part = _called(next(calls), circuit)
        elif letter in PINS:
            part = _single(card, letter, own, circuit)
        else:
            continue
        parts[part.ref] = part
        for element in own:
            elements[element.name] = replace(element, part=part.ref)
    return parts, elements


def _single(card: Card, letter: str, own: list[Element], circuit: Circuit) -> Part:
    names = PINS[letter]
    number = _number(letter, own)
    kind = kind_from_letter(letter)
    named = [word for word in card.words[len(names) + 1 :] if spice_number(word) is None and word[0] not in "{'\""]
    model = named[0] if named else ""
    better = kind_from_name(model, letter) if letter == "D" else None
    better = better or kind_from_value(letter, number)
    if better and better in part_kinds():
        kind = better
        reason = _because(letter, number, model)
        circuit.notes.guesses.append(f"{card.name} is taken as {part_kinds()[kind].words} {reason}.")
    nets = [circuit.nets(word) for word in card.words[1 : len(names) + 1]]
    return Part(card.name, kind, dict(zip(names, nets, strict=False)), _printed(card, letter, number, model), number)


def _number(letter: str, own: list[Element]) -> float | None:
    """The value of an R, C or L; the breakdown voltage of a diode that has one."""
    if not own:
        return None
    if letter in UNITS:
        return own[0].value
    breakdown = own[0].model.get("bv", float("inf"))
    return breakdown if letter == "D" and breakdown < float("inf") else None


def _printed(card: Card, letter: str, number: float | None, model: str) -> str:
    """The value for people: as the netlist prints it, computed where the netlist has an expression."""
    if letter in UNITS and number is not None:
        word = card.settings.get(letter.lower(), card.words[3] if len(card.words) > 3 else "")
        return word if spice_number(word) is not None else engineering(number, UNITS[letter])
    return model


def _because(letter: str, number: float | None, model: str) -> str:
    if letter == "C" and number is not None:
        return f"because of its {engineering(number, 'F')}"
    if letter == "D" and number is not None:
        return f"because it breaks down at {engineering(number, 'V')}"
    return f"because of its model {model}"


def _called(call: Call, circuit: Circuit) -> Part:
    kind = kind_from_name(call.subcircuit, "X")
    reason = f"because of the name {call.subcircuit}"
    if kind is None or kind not in part_kinds():
        kind, reason = "chip", f"because nothing is known of {call.subcircuit}"
    pins, renamed = call.pins, pins_of_kind(kind, call.pins)
    if renamed:
        pins = {renamed[name]: net for name, net in call.pins.items()}
    circuit.notes.guesses.append(f"{call.part} is taken as {part_kinds()[kind].words} {reason}.")
    return Part(call.part, kind, pins, call.subcircuit, notes=("kind guessed",))
