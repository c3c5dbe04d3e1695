"""Parameters of diode and transistor models, filled in as SPICE fills them, with ohmic resistances taken out."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache
from importlib.resources import files
from typing import Any

from kilter.circuit.board import Element
from kilter.importers.spice_cards import Card, bad_card
from kilter.importers.spice_numbers import spice_number
from kilter.importers.spice_site import Site
from kilter.importers.spice_structure import ModelCard


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(files("kilter.data").joinpath("spice_models.toml").read_text("utf-8"))


def smallest_resistor() -> float:
    """What a resistor of zero ohm becomes. [ohm]"""
    return float(_table()["r"]["smallest"])


def model_parameters(model: ModelCard, home: Site, letter: str) -> dict[str, float]:
    """
    Parameters by lower-case name: SPICE's defaults under what the .model line says.

    Args:
        model: As written.
        home: The site of the .model line, whose parameters its expressions use.
        letter: 'd' or 'q'.
    """
    table = _table()[letter]
    given = {}
    for key, text in model.settings.items():
        name = table["aliases"].get(key, key)
        model_line = Card(model.line, (f"model {model.name}",), {})
        if key == "type" or (spice_number(text) is None and text[:1] not in "{'\"" and _is_word(text, home)):
            home.warn(model_line, f"{key}={text} in model {model.name} is not used.")
            continue
        given[name] = home.value(text, model_line)
    parameters = {**table["defaults"], **given}
    for key in table["zero_means_infinite"]:
        if parameters.get(key) == 0:
            parameters[key] = math.inf
    _refuse_impossible(parameters, model)
    return {key: float(value) for key, value in parameters.items()}


def _is_word(text: str, home: Site) -> bool:
    """Whether a setting such as mfg=maker is a word, neither a number nor an expression over parameters."""
    return text.isidentifier() and text.lower() not in {**home.scope.texts, **home.scope.values}


def _refuse_impossible(parameters: Mapping[str, float], model: ModelCard) -> None:
    for key in ("is", "n", "nf", "nr", "bf", "br"):
        if key in parameters and not parameters[key] > 0:
            raise bad_card(model.line, f"{key}={parameters[key]:g} in model {model.name}", f"{key} above 0",
                           "Correct the parameter.")  # fmt: skip


def area_of(site: Site, card: Card, rest: Sequence[str]) -> float:
    """The area factor of a junction device, from its place after the model name or from area= and m=."""
    area = 1.0
    for word in rest:
        if word.lower() == "off":
            continue
        area = site.value(word, card)
    for key in ("area", "m"):
        if key in card.settings:
            area *= site.value(card.settings[key], card)
    if area <= 0:
        raise bad_card(card.line, f"{card.name} with area {area:g}", "an area factor above 0", "Correct the area.")
    return area


def split_resistances(element: Element, terminals: Mapping[str, int]) -> list[Element]:
    """
    A junction device as a plain junction and a resistor at each terminal whose ohmic resistance is not zero.

    Args:
        element: With its resistances still among the model parameters.
        terminals: Model parameter to the place of its node, such as {'rs': 0}.
    """
    nodes, resistors, model = list(element.nodes), [], dict(element.model)
    for key, place in terminals.items():
        ohm = model.pop(key, 0.0) / element.value
        if ohm > 0:
            inner = f"{element.name}.{'cbe'[place] if element.kind == 'Q' else 'a'}"
            resistors.append(Element(f"{element.name}.{key.upper()}", "R", (nodes[place], inner), ohm, tolerance=0.0))
            nodes[place] = inner
    return [replace(element, nodes=tuple(nodes), model=model), *resistors]
