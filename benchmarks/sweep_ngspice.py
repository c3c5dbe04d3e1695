"""
The leanest fault sweep that a user of ngspice can make in one process: the mark for our own engine.

    python benchmarks/sweep_ngspice.py [NETLIST ...]

For each fault one netlist is loaded; for each tolerance sample its values are altered, 'op' is run, every net is read
and the result destroyed. Netlists and commands are put into words before the clock starts, so that only the library's
own work and the calls into it are timed. Values that do not move a direct-current answer (capacitors) are not altered.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from kilter.circuit.board import GROUND, Board, Element
from kilter.importers.spice import read_spice
from kilter.parts.kinds import modes_of
from kilter.simulate.circuit.faults import apply_faults
from kilter.simulate.ngspice.library import Library, find_ngspice
from kilter.simulate.ngspice.names import element_name, model_name, node_name
from kilter.simulate.ngspice.netlist_text import spice_text
from kilter.simulate.prediction import Hypothesis

Floats = NDArray[np.float64]

Sample = Mapping[tuple[str, str], float]
"""(element, number) to the factor on its value: number is 'value' or a model parameter such as 'bf'."""

GIVEN_UP = ("aborted", "transient op")


@dataclass
class Sweep:
    """
    What came out and what it took.

    Args:
        nets: Names along the last axis.
        volts: NaN where ngspice gave up, shape (faults, samples, nets). [V]
        seconds: Spent on 'load', 'alter', 'op', 'read' and 'destroy'.
    """

    nets: tuple[str, ...]
    volts: Floats
    seconds: dict[str, float] = field(
        default_factory=lambda: dict.fromkeys(("load", "alter", "op", "read", "destroy"), 0.0)
    )


def ngspice_sweep(
    board: Board,
    faults: Sequence[Hypothesis],
    samples: Sequence[Sample],
    *,
    state: str = "on",
    options: Mapping[str, float] | None = None,
    library: Library | None = None,
) -> tuple[float, Sweep]:
    """
    Seconds of ngspice work, and every net of the board under every fault and sample.

    Args:
        board: With elements.
        faults: One topology each.
        samples: One set of factors each; what a sample leaves out keeps the value that the one before gave it.
        state: Name of the board's state.
        options: Simulator options; the tight ones unless said.
        library: A library already started in this process; there can be one only.
    """
    nets = tuple(sorted({net for element in board.elements.values() for net in element.nodes} - {GROUND}))
    sweep = Sweep(nets, np.full((len(faults), len(samples), len(nets)), np.nan))
    engine = library or Library(find_ngspice())
    vectors = [node_name(net).encode() for net in nets]
    for place, fault in enumerate(faults):
        elements = apply_faults(board, board.state(state), fault)
        commands = [_alterations(elements, sample) for sample in samples]
        _one_fault(engine, spice_text(elements, options=options), commands, vectors, sweep, place)
    return sum(sweep.seconds.values()), sweep


def _one_fault(
    engine: Library, text: str, commands: Sequence[Sequence[str]], vectors: Sequence[bytes], sweep: Sweep, place: int
) -> None:
    seconds = sweep.seconds
    start = perf_counter()
    engine.load(text)
    seconds["load"] += perf_counter() - start
    for number, lines in enumerate(commands):
        engine.hear_nothing_yet()
        times = [perf_counter()]
        for line in lines:
            engine.command(line)
        times.append(perf_counter())
        engine.command("op")
        times.append(perf_counter())
        row = [engine.last(vector) for vector in vectors]
        times.append(perf_counter())
        engine.command("destroy all")
        times.append(perf_counter())
        for name, spent in zip(("alter", "op", "read", "destroy"), np.diff(times), strict=True):
            seconds[name] += float(spent)
        if not engine.complained_of(GIVEN_UP):
            sweep.volts[place, number] = row
    start = perf_counter()
    engine.command("remcirc")
    seconds["load"] += perf_counter() - start


def _alterations(elements: Sequence[Element], sample: Sample) -> list[str]:
    by_name = {element.name: element for element in elements}
    return [_alteration(by_name[name], number, factor) for (name, number), factor in sample.items() if name in by_name]


def _alteration(element: Element, number: str, factor: float) -> str:
    if number == "value":
        return f"alter {element_name(element.kind, element.name)} = {element.value * factor!r}"
    return f"altermod {model_name(element.kind, element.name)} {number} = {element.model[number] * factor!r}"


def every_single_fault(board: Board) -> list[Hypothesis]:
    """Healthy first, then every mode that touches the circuit."""
    singles = [(part.ref, mode.key) for part in board.parts.values() for mode in modes_of(part) if mode.circuit]
    return [frozenset(), *(frozenset({fault}) for fault in singles)]


def spread_samples(board: Board, count: int, seed: int = 1) -> list[Sample]:
    """Factors for every resistor and source (5 % and 2 %, two sigma) and every current gain (log-normal, 0.25)."""
    random = np.random.default_rng(seed)

    def factors() -> Sample:
        drawn: dict[tuple[str, str], float] = {}
        for element in board.elements.values():
            if element.kind in "RV":
                drawn[element.name, "value"] = 1 + random.normal() * (0.025 if element.kind == "R" else 0.01)
            if element.kind == "Q":
                drawn[element.name, "bf"] = float(np.exp(0.25 * random.normal()))
        return drawn

    return [factors() for _ in range(count)]


SETTINGS: Mapping[str, Mapping[str, float] | None] = {"tight": None, "default": {}}


def main(names: Sequence[str]) -> None:
    """
    Print the time for each fault and sample, and where it went, with the reference's options and with ngspice's own.

    What 'op', 'read' and 'destroy' take is the floor under any order of the loops; 'load' and 'alter' depend on it.
    """
    netlists = Path(__file__).resolve().parent.parent / "tests" / "netlists"
    library = Library(find_ngspice())
    print("netlist    options  nets faults samples  us each   load  alter     op   read destroy given up")
    for name in names or ("supply", "audio", "reset", "filter", "board"):
        board = read_spice(netlists / f"{name}.cir")
        faults = every_single_fault(board)[:100]
        samples = spread_samples(board, 50 if len(board.elements) < 100 else 10)
        for settings, options in SETTINGS.items():
            _, sweep = ngspice_sweep(board, faults, samples, options=options, library=library)
            print(f"{name:<10} {settings:<8} {_report(sweep)}", flush=True)


def _report(sweep: Sweep) -> str:
    faults, samples, nets = sweep.volts.shape
    each = [1e6 * spent / (faults * samples) for spent in sweep.seconds.values()]
    lost = int(np.isnan(sweep.volts[..., 0]).sum())
    shares = "".join(f"{spent:7.1f}" for spent in each)
    return f"{nets:>4} {faults:>6} {samples:>7} {sum(each):>8.1f}{shares} {lost:>8}"


if __name__ == "__main__":
    main(sys.argv[1:])
