"""
Do suspects called 80 % turn out right 80 % of the time? Simulated visits with faults that ngspice injected.

    python benchmarks/calibration.py --to FOLDER [--visits 2000] [--seed 5] [--workers 1] [--boards NAME ...]

Random healthy boards get faults of sizes of their own and are read as in benchmarks/closed_loop until the stop rule
ends the visit. The faults are drawn by their prior odds, one to three at a time, whether a meter can see them at rest
or not: whoever weighs by other odds than those of the draw cannot be calibrated. What each visit said about each part
is kept in FOLDER chunk by chunk: started again on the same folder, it goes on. --workers takes a number of processes or
a Dask scheduler's address.

The weigher leaves something for 'nothing wrong' (the object fails though no part of this board is faulty) and for 'not
in the model'. So the draw has such objects too, as often as the prior says; --faults-only leaves them out.

Several curves are printed, each gap with an interval for which whole visits are drawn anew. As drawn: who weighs by
the prior that it was drawn from can be calibrated, as far as its idea of what is outside the model fits bridges and
broken tracks; without those objects, nothing hangs on that. Visits with a fault of the model only: then each call is
too small by what was left for the other two, and a second curve of the same visits says what was called given that
some fault of the model is there, by Bayes' rule. At the end of an advised visit most calls are near 0 or 1; after
every reading, the last included, there are calls of all sizes.

--report-only reports on the chunks that are there, finished or not
--typical     faults of the sizes that the part kinds data give
--visible     one fault each, which moves a reading at rest, as in benchmarks/closed_loop
--anywhere    one to eight readings anywhere instead of the advised ones, weighed once: a tenth of the time, and calls
              of all sizes. Whether what is believed is calibrated does not depend on who chose the tests.
--faults-only every object has a fault that the model has
--one-step    tests are advised without a look two steps ahead: a third less time, the same weighing
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent / "closed_loop"))

import numpy as np
from bench_object import BenchObject
from cases import Case, Plan, built, draw_case, plans
from elsewhere import broken
from loop import MOST_TESTS, advised

from kilter.compute.run import pool_of, run_sweep
from kilter.compute.sweep import Sweep
from kilter.diagnose.enumerate import NOTHING_WRONG
from kilter.diagnose.priors import priors_of
from kilter.services.diagnose import Diagnoser
from kilter.services.report_calibration import Told, calibration_of
from kilter.services.simulate_visits import drawn
from kilter.simulate.chain import usual_chain
from kilter.simulate.ngspice.library import NotSettled
from kilter.simulate.ngspice.worker import NgspiceWorker

AT_HAND = ("dmm", "supply_meter")
AT_ONCE = 5
"""Visits in a chunk, all of one board."""
GROSS = 0.015
"""Share of readings that are grossly wrong, as in benchmarks/closed_loop."""
MOST_ANYWHERE = 8
"""Readings of a visit whose tests are chosen at random."""
LEAST = 1e-4
"""Parts below this probability are not kept."""
TRUE, SAID = ("fault", "nothing", "outside"), ("healthy", "outside")
"""What can be true of an object, and what is said beside the parts."""


@cache
def ready(name: str, two_steps: bool) -> tuple[Plan, Diagnoser]:
    """Of the board of that name; the predictions in it are worth keeping."""
    plan = plans([name])[0]
    chain = usual_chain(plan.board)
    return plan, Diagnoser(plan.board, chain, AT_HAND, power_checks=True, not_working=True, two_steps=two_steps)


def visits(shared: Mapping[str, Any], chunk: Mapping[str, Any]) -> list[dict[str, Any]]:
    """What was said about every part at the end of each visit, and what was true."""
    plan, diagnoser = ready(chunk["board"], shared["two_steps"])
    found = []
    with NgspiceWorker() as worker:
        for number in chunk["numbers"]:
            try:
                case = drawn_case(plan, worker, number, shared)
                told = anywhere(case, diagnoser) if shared["anywhere"] else one_visit(case, diagnoser)
                true = "fault" if case.bench.faults else "nothing" if _as_built(case) else "outside"
                found.append({"board": plan.name, "number": number, "true": true, **told})
            except NotSettled:
                found.append({"board": plan.name, "number": number, "left_out": True})
    return found


def drawn_case(plan: Plan, worker: NgspiceWorker, number: int, shared: Mapping[str, Any]) -> Case:
    """One object with what is wrong with it."""
    if shared["visible"]:
        return draw_case(plan, worker, number, shared["seed"], gross=GROSS, sizes=shared["sizes"])
    key = (shared["seed"], number, *plan.name.encode())
    healthy = built(plan.board, int(np.random.default_rng(key).integers(2**31)))
    priors, random = priors_of(plan.board, not_working=True), np.random.default_rng([*key, 3])
    place = 1.0 if shared["faults_only"] else random.random()
    if place < np.exp(priors.log_outside):
        return Case(plan, number, BenchObject(worker, broken(healthy, random), NOTHING_WRONG, key, GROSS))
    if place < np.exp(priors.log_outside) + np.exp(priors.log_mass(0)[0]):
        return Case(plan, number, BenchObject(worker, healthy, NOTHING_WRONG, key, GROSS))
    faults = drawn(priors_of(plan.board), number, shared["seed"]).faults
    return Case(plan, number, BenchObject(worker, healthy, faults, key, GROSS, shared["sizes"]))


def _as_built(case: Case) -> bool:
    """Whether the object has the elements and nets of its board."""
    there, drawing = case.bench.board.elements, case.plan.board.elements
    return there.keys() == drawing.keys() and all(there[name].nodes == drawing[name].nodes for name in drawing)


def one_visit(case: Case, diagnoser: Diagnoser) -> dict[str, Any]:
    """Asks as advised until the stop rule ends it."""
    bench, plan = replace(case.bench, _times={}, gross_readings=0), case.plan
    readings = [bench.read(plan.first(), plan.state(powered=True), plan.on)]
    course = []
    while True:
        diagnosis = diagnoser.diagnose(readings)
        parts = {part: share for part, share in diagnosis.posterior.parts().items() if share >= LEAST}
        course.append(parts)
        test = advised(diagnosis, readings) if diagnosis.decision.action == "test" else None
        if test is None or len(readings) > MOST_TESTS:
            break
        state = diagnosis.visit.board.states[test.state]
        readings.append(bench.read(test, state, diagnosis.visit.plain[test.state]))
    return {
        "faults": [list(one) for one in sorted(case.bench.faults)],
        "parts": course[-1],
        "course": course[:-1],
        "healthy": diagnosis.posterior.healthy,
        "outside": diagnosis.posterior.not_in_model,
        "action": diagnosis.decision.action,
    }


def anywhere(case: Case, diagnoser: Diagnoser) -> dict[str, Any]:
    """One to MOST_ANYWHERE readings anywhere, weighed once."""
    bench, plan = replace(case.bench, _times={}, gross_readings=0), case.plan
    random = np.random.default_rng([*bench.seed, 5])
    tests = [plan.first(), *(test for quantity in ("voltage", "resistance", "diode") for test in plan.tests(quantity))]
    count = min(int(random.integers(1, MOST_ANYWHERE + 1)), len(tests))
    chosen = [tests[int(place)] for place in sorted(random.choice(len(tests), count, replace=False))]
    readings = [bench.read(test, plan.board.states[test.state], test.state) for test in chosen]
    posterior = diagnoser.posterior(readings)
    return {
        "faults": [list(one) for one in sorted(bench.faults)],
        "parts": {part: share for part, share in posterior.parts().items() if share >= LEAST},
        "course": [{}] * (count - 1),
        "healthy": posterior.healthy,
        "outside": posterior.not_in_model,
    }


def sweep_of(options: argparse.Namespace) -> Sweep:
    """The visits, spread evenly over the boards, in chunks of one board."""
    names = [plan.name for plan in plans(options.boards)]
    chunks = [
        {"board": name, "numbers": list(range(place, options.visits, len(names)))[first : first + AT_ONCE]}
        for first in range(0, options.visits, AT_ONCE)
        for place, name in enumerate(names)
    ]
    shared = {"seed": options.seed, "sizes": not options.typical, "two_steps": not options.one_step,
              "visible": options.visible, "anywhere": options.anywhere, "faults_only": options.faults_only}  # fmt: skip
    return Sweep("calibration with ngspice", visits, shared, [one for one in chunks if one["numbers"]])


def told_by(rows: Sequence[Mapping[str, Any]], *, every: bool) -> list[list[Told]]:
    """Of each visit, what was said about each part at its end, or after every reading, and whether it was so."""
    found = []
    for row in rows:
        faulty = {part for part, _ in row["faults"]}
        looks = [*row["course"], row["parts"]] if every else [row["parts"]]
        found.append([Told(share, part in faulty) for look in looks for part, share in sorted(look.items())])
    return found


def given_a_fault(rows: Sequence[Mapping[str, Any]]) -> list[list[Told]]:
    """
    What was said at the end, given that a fault that the model has is there.

    By Bayes' rule each probability is divided by what is left beside 'nothing wrong' and 'not in the model'.
    """
    found = []
    for row in rows:
        faulty, left = {part for part, _ in row["faults"]}, max(1.0 - row["healthy"] - row["outside"], LEAST)
        found.append([Told(min(share / left, 1.0), part in faulty) for part, share in sorted(row["parts"].items())])
    return found


def _true(row: Mapping[str, Any]) -> str:
    return str(row.get("true", "fault"))


def _mean(rows: Sequence[Mapping[str, Any]], key: str) -> str:
    return f"{np.mean([row[key] for row in rows]):.1%}"


def main(words: Sequence[str] | None = None) -> None:
    """Runs the visits, or what is left of them, and prints the calibration."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--to", type=Path, required=True)
    parser.add_argument("--visits", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--workers", default="1")
    parser.add_argument("--boards", nargs="*", default=[])
    parser.add_argument("--typical", action="store_true")
    parser.add_argument("--anywhere", action="store_true")
    parser.add_argument("--visible", action="store_true")
    parser.add_argument("--faults-only", action="store_true")
    parser.add_argument("--one-step", action="store_true")
    parser.add_argument("--report-only", action="store_true")
    options = parser.parse_args(words)
    if options.report_only:
        paths = sorted(options.to.glob("[0-9]*.json"))
        rows = [row for path in paths for row in json.loads(path.read_text("utf-8"))["result"]]
    else:
        pool = pool_of(options.workers)
        finished = run_sweep(sweep_of(options), pool, options.to, progress=lambda d, n: print(f"{d}/{n}", flush=True))
        rows = [row for result in finished.results for row in result]
        print(f"{finished.wall:.0f} s, efficiency {finished.efficiency}, results {finished.sha256}")
    report(rows)


def report(rows: Sequence[Mapping[str, Any]]) -> None:
    """Prints what was drawn and the curves."""
    kept = [row for row in rows if not row.get("left_out")]
    print(f"{len(kept)} visits; {len(rows) - len(kept)} left out because ngspice settled on no answer to a test")
    boards = sorted({row["board"] for row in kept})
    print("by board: " + ", ".join(f"{name} {sum(row['board'] == name for row in kept)}" for name in boards))
    print(f"readings a visit: {1 + sum(len(row['course']) for row in kept) / max(len(kept), 1):.1f}")
    print("true was: " + ", ".join(f"{true} {sum(_true(row) == true for row in kept)}" for true in TRUE))
    print("said of nothing wrong and of not in the model, mean: " + ", ".join(_mean(kept, k) for k in SAID))
    faulty = [row for row in kept if _true(row) == "fault"]
    curves = {
        "AS DRAWN, AT THE END": told_by(kept, every=False),
        "WITHOUT OBJECTS OUTSIDE THE MODEL": told_by([row for row in kept if _true(row) != "outside"], every=False),
        "VISITS WITH A FAULT OF THE MODEL, AS CALLED": told_by(faulty, every=False),
        "THE SAME, GIVEN SOME FAULT OF THE MODEL": given_a_fault(faulty),
    }
    if any(look for row in kept for look in row["course"]):
        curves["AS DRAWN, AFTER EVERY READING"] = told_by(kept, every=True)
    for words, told in curves.items():
        print(words)
        for line in calibration_of(told).lines():
            print(line)


if __name__ == "__main__":
    main()
