"""Tolerance samples: the same board built many times from healthy parts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from kilter.circuit.board import Board, Element
from kilter.parts.kinds import part_kind
from kilter.simulate.circuit.constants import engine_number
from kilter.simulate.circuit.draft import Key
from kilter.simulate.circuit.equations import Equations

Floats = NDArray[np.float64]


def sample_parameters(board: Board, equations: Equations, samples: int, seed: int = 1960) -> Floats:
    """
    Parameter columns of healthy boards.

    The first column is the nominal board. In the others each element's value is multiplied by exp(s*z), where 2*s is
    its tolerance and z a standard normal draw; the draws of one element are centred and scaled, so that few samples
    give nearly the right mean and spread. The same element draws the same numbers whatever else the board holds.

    Returns:
        Shape (n_parameters, samples).
    """
    table = np.repeat(equations.nominal[:, None], samples, axis=1)
    for element in board.elements.values():
        for key, spread, power in _spreads(board, element):
            if key in equations.parameter and spread > 0.0 and samples > 1:
                row = equations.parameter[key]
                factor = np.exp(power * spread / 2.0 * _draws(key, samples, seed))
                if key[0] == "bv":
                    table[row] += (factor - 1.0) * (element.model["bv"] if np.isfinite(equations.nominal[row]) else 0.0)
                else:
                    table[row] *= factor
    return table


def sampled_board(board: Board, equations: Equations, column: Floats) -> Board:
    """
    One of the sampled boards as a board of its own, for a simulator that takes netlists.

    Args:
        board: The nominal one.
        equations: Of that board.
        column: Its sampled parameters, before any fault, shape (n_parameters,).
    """
    known = (equations.nominal != 0.0) & np.isfinite(equations.nominal)
    ratio = np.divide(column, equations.nominal, out=np.ones_like(column), where=known)
    elements = {name: _sampled(element, equations, ratio, column) for name, element in board.elements.items()}
    return replace(board, elements=elements)


def _sampled(element: Element, equations: Equations, ratio: Floats, column: Floats) -> Element:
    number, name = equations.parameter, element.name
    if element.kind == "R":
        return replace(element, value=element.value / float(ratio[number["g", name]]))
    if element.kind in "CLVI":
        key = (element.kind.lower(), name)
        return replace(element, value=element.value * float(ratio[number[key]])) if key in number else element
    if element.kind == "D":
        model = dict(element.model) | {"is": element.model["is"] * float(ratio[number["is", name]])}
        place = number["bv", name]
        if np.isfinite(column[place]):
            model["bv"] = element.model["bv"] + float(column[place] - equations.nominal[place])
        return replace(element, model=model)
    if element.kind == "Q":
        model = dict(element.model) | {"bf": element.model["bf"] / float(ratio[number["be", name]])}
        return replace(element, model=model)
    return element


def two_sigma(board: Board, element: Element) -> float:
    """Two-sigma relative spread of an element's main value: its own, else its part's, its kind's or the engine's."""
    if element.tolerance is not None:
        return element.tolerance
    if not element.part:
        return engine_number("source_spread") if element.kind in "VI" else 0.0
    part = board.parts[element.part]
    if element.name != part.ref and "." in element.name:
        return engine_number("inner_spread")
    return part.tolerance if part.tolerance is not None else part_kind(part.kind).tolerance


def _spreads(board: Board, element: Element) -> list[tuple[Key, float, float]]:
    """(parameter, two-sigma spread, power) of each number of an element that healthy parts differ in."""
    name, spread = element.name, two_sigma(board, element)
    if element.kind == "R":
        return [(("g", name), spread, -1.0)]
    if element.kind in "CLVI":
        return [((element.kind.lower(), name), spread, 1.0)]
    if element.kind == "D":
        saturation = (("is", name), engine_number("saturation_spread"), 1.0)
        return [saturation, (("bv", name), engine_number("breakdown_spread"), 1.0)]
    if element.kind == "Q":
        return [(("be", name), spread, -1.0)]
    return []


def _draws(key: Key, samples: int, seed: int) -> Floats:
    """Zero, then centred and scaled standard normal draws, shape (samples,)."""
    generator = np.random.default_rng([seed, *"/".join(key).encode()])
    draws = generator.standard_normal(samples - 1)
    if samples > 3:
        draws = (draws - draws.mean()) / draws.std()
    return np.concatenate([[0.0], draws])
