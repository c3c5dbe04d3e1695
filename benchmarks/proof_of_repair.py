"""
Does an acceptance list tell a good repair from a bad one? Random objects simulated with ngspice, read with meters.

    python benchmarks/proof_of_repair.py [--cases 12] [--seed 1] [--boards audio reset]

Each object has parts of its own tolerance draw and one fault of a size of its own. The list is made for that fault as
the part kinds data know it. Then every item is read (a) on the object healthy, (b) with the fault still there, (c) with
the fault gone and another one there that nobody suspects. Beside it stands what is done without a list: the rails and
the last point of the signal read, and compared with their limits without regard to uncertainty.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent / "closed_loop"))

from bench_object import BenchObject
from cases import Case, Plan, draw_case, plans

from kilter.measure.errors import KilterError
from kilter.planning.numbers import number
from kilter.planning.proof.decide import ACCEPTED, OPEN, REJECTED
from kilter.records.reading import Reading
from kilter.services.acceptance_list import Item, acceptance_list
from kilter.services.prove_repair import prove_repair
from kilter.simulate.chain import usual_chain
from kilter.simulate.ngspice.library import NotSettled
from kilter.simulate.ngspice.worker import NgspiceWorker
from kilter.simulate.prediction import Hypothesis

KINDS = ("voltage", "resistance", "diode", "current")
"""Quantities that the simulated bench can read."""
HEALTHY, STILL, OTHER = "healthy after all", "the fault is still there", "another fault is there"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, default=12, help="objects of each board (12)")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--boards", nargs="*", default=[])
    chosen = parser.parse_args()
    counts: dict[tuple[str, str], Counter[str]] = {}
    sizes = []
    with NgspiceWorker() as worker:
        for plan in plans(chosen.boards):
            chain = usual_chain(plan.board)
            for at in range(chosen.cases):
                case = draw_case(plan, worker, at, chosen.seed, faults=2, gross=0.0, sizes=True)
                first, second = sorted(case.bench.faults)
                items = [one for one in acceptance_list(plan.board, chain, [first], None, (), (plan.on, plan.off))
                         if one.test.quantity in KINDS]  # fmt: skip
                sizes.append(len(items))
                few = [(name, "voltage", plan.on) for name in (*plan.rails, plan.flow[-1])]
                usual = [one for one in acceptance_list(plan.board, chain, [], None, few, (plan.on,)) if one.key in few]
                for name, faults in ((HEALTHY, frozenset()), (STILL, {first}), (OTHER, {second})):
                    whole, short = verdicts(plan, case, items, usual, frozenset(faults))
                    counts.setdefault((name, "list"), Counter())[whole] += 1
                    counts.setdefault((name, "rails and output"), Counter())[short] += 1
    print(f"{len(sizes)} objects; {sum(sizes) / len(sizes):.0f} items on a list on average")
    for (name, way), found in counts.items():
        total = sum(found.values())
        told = (key for key in (ACCEPTED, REJECTED, OPEN) if found[key])
        shares = ", ".join(f"{key} {100 * found[key] / total:.0f} %" for key in told)
        print(f"  {name:26s} {way:18s} {shares}")


def verdicts(plan: Plan, case: Case, items: list[Item], usual: list[Item], faults: Hypothesis) -> tuple[str, str]:
    """Verdict of the whole list, and of rails and output alone without guard bands."""
    bench = BenchObject(case.bench.worker, case.bench.board, faults, case.bench.seed, 0.0, sizes=True)
    readings = [one for item in items if (one := read(plan, bench, item)) is not None]
    proof = prove_repair(plan.board, items, (), readings, number("proof", "risk"))
    plain = [replace(one, uncertainty=0.0) for item in usual if (one := read(plan, bench, item)) is not None]
    return proof.verdict, prove_repair(plan.board, usual, (), plain, number("proof", "risk")).verdict


def read(plan: Plan, bench: BenchObject, item: Item) -> Reading | None:
    """One reading with the meter's noise; None where ngspice finds no working point, which stays open."""
    try:
        return bench.read(item.test, plan.board.states[item.test.state], item.test.state)
    except (KilterError, NotSettled):
        return None


if __name__ == "__main__":
    main()
