"""
Fault sweep of a whole board: Kilter's engine beside ngspice in the same process, the same faults, the same samples.

    python benchmarks/fault_sweep.py [--netlist board] [--samples 200] [--rounds 3] [--reference-faults 40]

Kilter solves every single fault on every sample. ngspice is run leanly (see sweep_ngspice.py) on every n-th fault and
the first samples only, with its own default tolerances, which are faster than tight ones; its time per lane is what is
compared. Rounds alternate. The volts of the common lanes are compared too.
"""

from __future__ import annotations

import argparse
import resource
from collections.abc import Sequence
from pathlib import Path
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from kilter.circuit.board import Board
from kilter.importers.spice import read_spice
from kilter.simulate.circuit.equations import Equations, write_equations
from kilter.simulate.circuit.sweep import Standing
from kilter.simulate.ngspice.library import Library, find_ngspice
from kilter.simulate.prediction import Hypothesis
from sweep_ngspice import Sample, every_single_fault, ngspice_sweep, spread_samples

Floats = NDArray[np.float64]
NETLISTS = Path(__file__).resolve().parent.parent / "tests" / "netlists"
REFERENCE_SAMPLES = 8
SETTINGS = {"default": {}, "tight": None}


def parameters_of(equations: Equations, samples: Sequence[Sample]) -> Floats:
    """The engine's parameter columns for samples given as factors, shape (n_parameters, samples)."""
    table = np.repeat(equations.nominal[:, None], len(samples), axis=1)
    for column, sample in enumerate(samples):
        for (name, number), factor in sample.items():
            key, power = {"value": (("g", name), -1), "bf": (("be", name), -1)}[number]
            key, power = (key, power) if key in equations.parameter else (("v", name), 1)
            table[equations.parameter[key], column] *= factor**power
    return table


def kilter_sweep(
    board: Board, equations: Equations, faults: Sequence[Hypothesis], parameters: Floats, *, compiled: bool
) -> tuple[float, Floats, int]:
    """Seconds, volts in pivot order (faults, n + 1, samples) and lanes not settled; set-up of the state included."""
    start = perf_counter()
    found = Standing(board, equations, board.states["on"], parameters).sweep(faults, compiled=compiled)
    return perf_counter() - start, found.volts, int((~found.settled).sum())


def main() -> None:
    """Run the rounds and print times per lane, ratios, agreement and peak memory."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--netlist", default="board")
    parser.add_argument("--samples", type=int, default=200)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--reference-faults", type=int, default=40)
    chosen = parser.parse_args()
    board = read_spice(NETLISTS / f"{chosen.netlist}.cir")
    faults, samples = every_single_fault(board), spread_samples(board, chosen.samples)
    start = perf_counter()
    equations = write_equations(board, powered=True)
    setup = perf_counter() - start
    parameters = parameters_of(equations, samples)
    picked = list(range(0, len(faults), max(1, len(faults) // chosen.reference_faults)))
    library = Library(find_ngspice())
    nets = sum("~" not in name for name in equations.node_place) - 1
    print(f"{chosen.netlist}: {nets} nets, {equations.lu.size} unknowns, {len(faults)} faults x {len(samples)} samples")
    print(f"equations and pivot order: {setup * 1e3:.0f} ms")
    first, _, _ = kilter_sweep(board, equations, faults[:2], parameters[:, :16], compiled=True)
    print(f"first call of the compiled kernel: {first:.1f} s (not counted below)")
    ratios: dict[str, list[tuple[float, float]]] = {name: [] for name in SETTINGS}
    for number in range(chosen.rounds):
        own, volts, unsettled = kilter_sweep(board, equations, faults, parameters, compiled=True)
        lane = own / (len(faults) * len(samples)) * 1e6
        print(
            f"round {number + 1}: Kilter {own:.2f} s, {lane:.1f} us a lane, {unsettled} lanes not settled", flush=True
        )
        for name, options in SETTINGS.items():
            few = samples[:REFERENCE_SAMPLES] if name == "default" else samples[:2]
            some = picked if name == "default" else picked[::4]
            _, reference = ngspice_sweep(board, [faults[h] for h in some], few, options=options, library=library)
            lanes = len(some) * len(few)
            whole = sum(reference.seconds.values()) / lanes * 1e6
            floor = sum(reference.seconds[step] for step in ("op", "read", "destroy")) / lanes * 1e6
            ratios[name].append((whole / lane, floor / lane))
            agreement = _agreement(equations, volts[some][:, :, : len(few)], reference.volts, reference.nets)
            print(f"         ngspice, {name:<7} {whole:9.1f} us a lane ({floor:.1f} without load and alter), "
                  f"ratio {whole / lane:6.1f} ({floor / lane:.1f}); {agreement}", flush=True)  # fmt: skip
    for name, pairs in ratios.items():
        whole, floor = np.median(np.array(pairs), axis=0)
        print(f"median ratio to ngspice, {name} tolerances: {whole:.1f} ({floor:.1f} for its solving alone)")
    print(f"peak memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")


def _agreement(equations: Equations, own: Floats, reference: Floats, nets: Sequence[str]) -> str:
    """Share of the common volts within 0.2 % + 1 mV."""
    ours = own[:, [equations.node_place[net] for net in nets]].transpose(0, 2, 1)
    known = np.isfinite(reference) & np.isfinite(ours)
    near = np.abs(ours - reference)[known] <= 1e-3 + 2e-3 * np.abs(reference[known])
    return f"{100 * near.mean():.2f} % of {known.sum()} volts agree"


if __name__ == "__main__":
    main()
