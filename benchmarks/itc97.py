"""
Diagnosis of the ITC'97 state-variable filter: every published R and C fault, and faults of whole op-amps.

Run from the repository root: python benchmarks/itc97.py [objects for each fault]
Needs ngspice, which builds every object. What is simulated, and what is not, stands in tests/itc97/state_variable.py
and design/itc97.md. Printed for each way of reading: the share of objects whose true part comes first, the share in
which it comes first or is tied with the first, the mean size of the tie, the mean probability of the true part, and
the share in which 'nothing wrong' or 'not in the model' is likelier than any part.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "itc97"))

from state_variable import Object, published_faults
from trial import Bench, Verdict, ambiguity_groups, objects, separation, weighed

from kilter.simulate.ngspice import NgspiceWorker

SEED_OBJECTS, SEED_READINGS = 1997, 2026
BENCHES = {
    "outputs, 3 % scope": Bench(),
    "outputs, 1 %": Bench(fine=True),
    "all nodes, 3 % scope": Bench(points="all nodes"),
    "all nodes, 1 %": Bench(points="all nodes", fine=True),
    "outputs, 3 % scope, model not believed": Bench(exact_model=False),
    "outputs, 3 % scope, drifts of a grid": Bench(drifts="grid"),
    "outputs, 3 % scope, drifts of the kind": Bench(drifts="kind"),
}


def main(each: int) -> None:
    """Build the objects once, read and weigh them in every way."""
    started = time.perf_counter()
    with NgspiceWorker() as worker:
        built = list(objects(worker, each, SEED_OBJECTS))
    print(f"{len(built)} objects built by ngspice in {time.perf_counter() - started:.1f} s")
    for name, bench in BENCHES.items():
        _print_bench(name, bench, built)


def _print_bench(name: str, bench: Bench, built: Sequence[Object]) -> None:
    started = time.perf_counter()
    verdicts = weighed(bench, built, SEED_READINGS)
    print(f"\n{name}   ({(time.perf_counter() - started) / len(built) * 1e3:.0f} ms an object)")
    print("  faults    objects  first  first or tied  size of tie  P(true part)  missed")
    for group in published_faults():
        print(_row(group, [one for one in verdicts if one.group == group]))
    if bench.exact_model and bench.drifts == "published":
        _print_groups(bench)
        _print_mistakes(verdicts)


def _row(group: str, verdicts: Sequence[Verdict]) -> str:
    def mean(values: Iterable[float]) -> float:
        return float(np.mean(list(values)))

    return (
        f"  {group:8}  {len(verdicts):7}  {mean(v.right for v in verdicts):5.3f}"
        f"  {mean(v.right_or_tied for v in verdicts):13.3f}  {mean(len(v.tied) for v in verdicts):11.2f}"
        f"  {mean(v.true_share for v in verdicts):12.3f}  {mean(v.missed for v in verdicts):6.3f}"
    )


def _print_groups(bench: Bench) -> None:
    faults = [fault for group in published_faults().values() for fault in group]
    groups = ambiguity_groups(faults, separation(bench, faults))
    print("  cannot be told apart: " + "; ".join(" = ".join(map(_words, group)) for group in groups))


def _print_mistakes(verdicts: Sequence[Verdict]) -> None:
    wrong = Counter((_words(one.truth), one.first) for one in verdicts if not one.right_or_tied)
    print("  wrong and not tied: " + ("; ".join(f"{t} taken for {f} ({n})" for (t, f), n in wrong.items()) or "none"))


def _words(fault: tuple[str, str]) -> str:
    return f"{fault[0]} {fault[1].removeprefix('value ')}"


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 6)
