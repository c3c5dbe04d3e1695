"""A small circuit over the tolerance of its parts: volts at rest and gain over frequency, by the circuit engine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kilter.circuit.board import Board, Element, State
from kilter.simulate.circuit.equations import Equations, write_equations
from kilter.simulate.circuit.small_signal import small_signal
from kilter.simulate.circuit.sweep import Standing
from kilter.simulate.circuit.tolerances import sample_parameters
from kilter.simulate.prediction import Floats, Hypothesis

SAMPLES = 64
HEALTHY: Hypothesis = frozenset()
ON = State("on", powered=True)


@dataclass(frozen=True)
class Circuit:
    """A circuit solved at rest: element values by tolerance sample, the first one nominal."""

    board: Board
    equations: Equations
    parameters: Floats
    volts: Floats

    def at(self, node: str) -> Floats:
        """Volts of a node at rest, shape (samples,)."""
        return np.asarray(self.volts[self.equations.node_place[node]])

    def gain(self, node: str, hertz: float) -> Floats:
        """Amplitude at a node for a source amplitude of 1, shape (samples,)."""
        found = small_signal(self.board, self.equations, self.parameters, self.volts, hertz)
        return np.asarray(np.abs(found[self.equations.node_place[node]]))

    def response(self, node: str, frequencies: Sequence[float]) -> tuple[tuple[float, float, float, float], ...]:
        """Frequency with the lowest, nominal and highest gain over tolerance. [Hz, dB]"""
        rows = []
        for hertz in frequencies:
            decibels = 20 * np.log10(np.maximum(self.gain(node, hertz), 1e-12))
            rows.append((float(hertz), float(decibels.min()), float(decibels[0]), float(decibels.max())))
        return tuple(rows)


def solve(
    elements: Sequence[Element],
    sources: Mapping[str, float] | None = None,
    samples: int = SAMPLES,
    held: Mapping[str, Floats] | None = None,
) -> Circuit:
    """
    Solves it over tolerance.

    Args:
        elements: With tolerances where they spread.
        sources: Settings of voltage sources that differ from their values. [V]
        samples: Tolerance samples; 1 is nominal alone.
        held: Voltage sources that differ from sample to sample, each shape (samples,). [V]
    """
    board, equations = _board(elements)
    return _settled(board, equations, sample_parameters(board, equations, samples), sources or {}, held or {})


def solve_choices(elements: Sequence[Element], sources: Mapping[str, float], ohms: Mapping[str, Floats]) -> Circuit:
    """
    Solves it at nominal values for many choices of some resistors; its samples are the choices.

    Args:
        elements: The circuit.
        sources: Settings of voltage sources that differ from their values. [V]
        ohms: Values by resistor, each shape (choices,). [ohm]
    """
    board, equations = _board(elements)
    count = len(next(iter(ohms.values())))
    parameters = np.repeat(sample_parameters(board, equations, 1), count, axis=1)
    for name, values in ohms.items():
        parameters[equations.parameter["g", name]] = 1 / values
    return _settled(board, equations, parameters, sources, {})


def _board(elements: Sequence[Element]) -> tuple[Board, Equations]:
    board = Board("design", elements={one.name: one for one in elements}, states={"on": ON})
    return board, write_equations(board, powered=True)


def _settled(
    board: Board, equations: Equations, parameters: Floats, sources: Mapping[str, float], held: Mapping[str, Floats]
) -> Circuit:
    for name, volts in held.items():
        parameters[equations.parameter["v", name]] = volts
    standing = Standing(board, equations, State("on", powered=True, supplies=dict(sources)), parameters)
    found = standing.sweep([HEALTHY])
    return Circuit(board, equations, standing.base, found.volts[0])


def spread(values: Floats) -> tuple[float, float, float]:
    """Lowest, nominal and highest."""
    return float(values.min()), float(values[0]), float(values.max())
