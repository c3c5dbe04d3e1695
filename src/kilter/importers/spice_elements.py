"""Element lines of a SPICE netlist to elements of the board, one letter at a time."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from kilter.circuit.board import Element
from kilter.importers.spice_cards import Card, bad_card
from kilter.importers.spice_models import area_of, model_parameters, smallest_resistor, split_resistances
from kilter.importers.spice_numbers import spice_number
from kilter.importers.spice_polynomials import linear_terms
from kilter.importers.spice_site import Site

UNSUPPORTED: Mapping[str, str] = {
    "a": "code model", "b": "behavioural source", "j": "junction field-effect transistor", "k": "coupled inductors",
    "m": "MOS field-effect transistor", "n": "compiled device", "o": "lossy line", "p": "coupled line",
    "s": "voltage-controlled switch", "t": "transmission line", "u": "distributed RC line",
    "w": "current-controlled switch", "y": "transmission line", "z": "MESFET",
}  # fmt: skip
"""Letters that the circuit predictor has no element for."""

WAVEFORMS: Mapping[str, int] = {"pulse": 0, "sin": 0, "exp": 0, "sffm": 0, "am": -1, "pwl": 1}
"""Waveform to the place of its value at time zero among its arguments; -1: it starts at zero."""

IGNORED_SETTINGS = frozenset(("noisy", "temp", "dtemp"))


def elements_of(site: Site, card: Card) -> list[Element]:
    """
    The elements of one line; none for a letter of UNSUPPORTED, which is noted.

    Raises:
        BadInput: The line cannot be understood.
    """
    letter = card.name[0].lower()
    if letter in UNSUPPORTED:
        site.warn(card, _left_out(letter, card))
        return []
    if letter not in BUILDERS:
        raise bad_card(card.line, f"'{card.line.text[:60]}'", "an element line that starts with a SPICE letter",
                       "Start comments with '*', and elements with one of R C L D Q V I E F G H X.")  # fmt: skip
    return [replace(element, part=site.part) for element in BUILDERS[letter](site, card)]


def _left_out(letter: str, card: Card) -> str:
    near = ", ".join(card.words[1:4])
    if letter == "k":
        return f"{card.name} ({UNSUPPORTED[letter]} {near}) is left out; the inductors are taken as separate."
    return f"{card.name} ({UNSUPPORTED[letter]}) is left out; what is predicted around {near} cannot be relied on."


def _passive(site: Site, card: Card) -> list[Element]:
    letter = card.name[0].upper()
    _need(card, 3, f"{letter}name, two nodes and a value")
    text = _passive_value(site, card, letter)
    value = site.value(text, card, letter)
    multiple = site.value(card.settings["m"], card) if "m" in card.settings else 1.0
    if multiple <= 0:
        raise bad_card(card.line, f"{card.name} with m={multiple:g}", "a multiplier above 0", "Correct m.")
    value = value * multiple if letter == "C" else value / multiple
    if letter == "R" and value == 0:
        value = smallest_resistor()
        site.warn(card, f"{card.name} of 0 ohm is taken as {value:g} ohm.")
    elif value <= 0:
        site.warn(card, f"{card.name} has the value {value:g}, which no real part has.")
    _note_settings(site, card, {letter.lower(), "m"})
    return [_element(site, card, letter, 2, value)]


def _passive_value(site: Site, card: Card, letter: str) -> str:
    """The value's text: the fourth word, or a setting such as r=4.7k; a model name beside it is noted."""
    if letter.lower() in card.settings:
        return card.settings[letter.lower()]
    rest = list(card.words[3:])
    models = [word for word in rest if spice_number(word) is None and site.has_model(word)]
    values = [word for word in rest if word not in models]
    if models:
        site.warn(card, f"{card.name}: the model {models[0]} is not used, only the value.")
    if not values:
        raise bad_card(card.line, f"{card.name} without a value", f"{letter}name, two nodes and a value",
                       "Write the value on the line; values made from a model are not computed.")  # fmt: skip
    if len(values) > 1:
        site.warn(card, f"{card.name}: '{' '.join(values[1:])}' after the value is not used.")
    return values[0]


def _diode(site: Site, card: Card) -> list[Element]:
    _need(card, 4, "Dname, anode, cathode and a model name")
    model, home = site.model(card.words[3], card, ("d",))
    area = area_of(site, card, card.words[4:])
    _note_settings(site, card, {"area", "m"})
    parameters = model_parameters(model, home, "d")
    return split_resistances(_element(site, card, "D", 2, area, parameters), {"rs": 0})


def _transistor(site: Site, card: Card) -> list[Element]:
    _need(card, 5, "Qname, collector, base, emitter and a model name")
    at = 4 if site.has_model(card.words[4]) or len(card.words) == 5 else 5
    if at == 5:
        site.warn(card, f"{card.name}: the substrate node {card.words[4]} is left out.")
    model, home = site.model(card.words[at], card, ("npn", "pnp"))
    area = area_of(site, card, card.words[at + 1 :])
    _note_settings(site, card, {"area", "m"})
    parameters = model_parameters(model, home, "q")
    parameters["polarity"] = -1.0 if model.type == "pnp" else 1.0
    return split_resistances(_element(site, card, "Q", 3, area, parameters), {"rc": 0, "rb": 1, "re": 2})


def _source(site: Site, card: Card) -> list[Element]:
    _need(card, 3, "the name, two nodes and a value")
    words = list(card.words[3:])
    lows = [word.lower() for word in words]
    dc = _after(site, card, words, lows, "dc")
    if "dc" in card.settings:
        dc = site.value(card.settings["dc"], card)
    if dc is None and words and (spice_number(words[0]) is not None or words[0][0] in "{'\""):
        dc = site.value(words[0], card)
    ac = site.value(card.settings["ac"], card) if "ac" in card.settings else _after(site, card, words, lows, "ac")
    start = _waveform_start(site, card, words, lows)
    _note_settings(site, card, {"dc", "ac"})
    value = dc if dc is not None else (start or 0.0)
    if ac is None:
        ac = 1.0 if "ac" in lows else 0.0
    return [replace(_element(site, card, card.name[0].upper(), 2, value), ac=ac)]


def _after(site: Site, card: Card, words: list[str], lows: list[str], key: str) -> float | None:
    """The number after a keyword, where one follows."""
    at = lows.index(key) + 1 if key in lows else len(words)
    if at >= len(words) or (spice_number(words[at]) is None and words[at][0] not in "{'\""):
        return None
    return site.value(words[at], card)


def _waveform_start(site: Site, card: Card, words: list[str], lows: list[str]) -> float | None:
    """The value at time zero of a source that has a waveform, and a note that the waveform itself is not used."""
    for at, low in enumerate(lows):
        if low in WAVEFORMS:
            site.warn(card, f"{card.name}: of the waveform '{words[at]}' only the value at time zero is used.")
            place = WAVEFORMS[low]
            arguments = words[at + 1 :]
            return site.value(arguments[place], card) if 0 <= place < len(arguments) else 0.0
        if low not in ("dc", "ac") and spice_number(low) is None and low[0] not in "{'\"":
            raise bad_card(card.line, f"{card.name} with the word '{words[at]}'",
                           f"a value, DC, AC or one of {', '.join(sorted(WAVEFORMS))}",
                           "Correct the source.")  # fmt: skip
    return None


def _voltage_controlled(site: Site, card: Card) -> list[Element]:
    if _formula(card):
        return _summed(site, card)
    _need(card, 6, "the name, two output nodes, two input nodes and a gain")
    _note_settings(site, card, {"m"})
    return [_element(site, card, card.name[0].upper(), 4, site.value(card.words[5], card))]


def _current_controlled(site: Site, card: Card) -> list[Element]:
    if _formula(card):
        return _summed(site, card)
    _need(card, 5, "the name, two output nodes, a voltage source and a gain")
    _note_settings(site, card, {"m"})
    element = _element(site, card, card.name[0].upper(), 2, site.value(card.words[4], card))
    return [replace(element, control=site.prefix + card.words[3])]


def _formula(card: Card) -> str:
    """The word of a controlled source that is given by a formula, a table or a polynomial; '' for a plain gain."""
    words = {word.lower() for word in card.words[3:4]} | set(card.settings)
    return min(words & {"poly", "value", "table", "vol", "cur", "laplace", "freq", "pwl"}, default="")


def _summed(site: Site, card: Card) -> list[Element]:
    """The terms of a linear polynomial; every other formula is noted and left out."""
    form = _formula(card)
    terms = linear_terms(site, card) if form == "poly" else None
    if terms is None:
        near = ", ".join(card.words[1:3])
        site.warn(card, f"{card.name} (controlled by '{form}') is left out; what is predicted around {near} "
                        "cannot be relied on.")  # fmt: skip
    return terms or []


def _element(
    site: Site, card: Card, kind: str, nodes: int, value: float, model: Mapping[str, float] | None = None
) -> Element:
    nets = tuple(site.net(word) for word in card.words[1 : nodes + 1])
    return Element(site.prefix + card.name, kind, nets, value, model=model or {})


def _need(card: Card, words: int, form: str) -> None:
    if len(card.words) < words:
        raise bad_card(card.line, f"'{card.line.text[:60]}'", form, "Complete the line.")


def _note_settings(site: Site, card: Card, used: set[str]) -> None:
    unused = [key for key in card.settings if key not in used and key not in IGNORED_SETTINGS]
    if unused:
        site.warn(card, f"{card.name}: {', '.join(unused)} on the line is not used.")


BUILDERS: Mapping[str, Callable[[Site, Card], list[Element]]] = {
    "r": _passive, "c": _passive, "l": _passive, "d": _diode, "q": _transistor, "v": _source, "i": _source,
    "e": _voltage_controlled, "g": _voltage_controlled, "f": _current_controlled, "h": _current_controlled,
}  # fmt: skip

