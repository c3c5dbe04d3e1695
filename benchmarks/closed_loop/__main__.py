"""
How well Kilter finds faults that it has not made: random objects simulated with ngspice, asked about until it stops.

    python benchmarks/closed_loop [--cases N] [--seed N] [--faults 1] [--typical] [--boards audio reset] [--out FILE]

--cases   objects, spread evenly over the boards
--faults  faults in each object
--typical faults have the sizes that the part kinds data give, not sizes of their own
--ways    which ways of asking to run; the advice alone is fastest
--out     one JSON line for each object and way
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from functools import cache, partial
from pathlib import Path

from cases import Case, Plan, draw_case, felt, plans
from expert import Expert, HealthyBands
from loop import MOST_TESTS, Outcome, advised, alone, at_random, by_expert, follow
from score import report

from kilter.services.diagnose import Diagnoser
from kilter.simulate.chain import usual_chain
from kilter.simulate.ngspice.library import NotSettled
from kilter.simulate.ngspice.worker import NgspiceWorker

WAYS = ("advice", "random", "half-splitting", "half-splitting alone")
AT_HAND = ("dmm", "supply_meter")
"""What ngspice can answer for: a multimeter and the meters of the bench supply."""
AT_ONCE = 4
"""Objects of one board that a process does in one go."""


@dataclass
class Ready:
    """What one board needs; kept by each process, for the predictions in it are worth keeping."""

    plan: Plan
    diagnosers: dict[bool, Diagnoser]
    bands: HealthyBands
    odds: dict[str, float]


@cache
def ready(name: str) -> Ready:
    """Of the board of that name; only the advice looks two steps ahead."""
    plan = plans([name])[0]
    chain = usual_chain(plan.board)
    diagnosers = {
        two: Diagnoser(plan.board, chain, AT_HAND, power_checks=True, not_working=True, two_steps=two)
        for two in (True, False)
    }
    odds: dict[str, float] = {}
    for (part, _), share in felt(plan.board).items():
        odds[part] = odds.get(part, 0.0) + share
    return Ready(plan, diagnosers, HealthyBands(plan, chain), odds)


def outcomes_of(job: tuple[str, Sequence[int]], options: argparse.Namespace) -> list[Outcome]:
    """Some objects of one board, in every way that was asked for."""
    (name, numbers), found = job, []
    known = ready(name)
    with NgspiceWorker() as worker:
        for number in numbers:
            case = draw_case(
                known.plan,
                worker,
                number,
                options.seed,
                faults=options.faults,
                gross=options.gross,
                sizes=not options.typical,
            )
            try:
                found += [_one(way, case, known, options) for way in options.ways]
            except NotSettled as error:
                print(f"left out: {name} {number} {sorted(case.bench.faults)}: {error.found}", file=sys.stderr)
    return found


def _one(way: str, case: Case, known: Ready, options: argparse.Namespace) -> Outcome:
    expert = Expert(case.plan)
    if way == "half-splitting alone":
        return alone(case, expert, known.bands, known.odds)
    choose = {
        "advice": advised,
        "random": at_random((options.seed, case.number)),
        "half-splitting": by_expert(expert, known.bands),
    }[way]
    return follow(case, known.diagnosers[way == "advice"], way, choose, most=options.most)


def _arguments(words: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--cases", type=int, default=70)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--faults", type=int, default=1)
    parser.add_argument("--gross", type=float, default=0.015, help="share of grossly wrong readings")
    parser.add_argument("--most", type=int, default=MOST_TESTS, help="tests at most")
    parser.add_argument("--typical", action="store_true")
    parser.add_argument("--boards", nargs="*", default=[])
    parser.add_argument("--ways", nargs="*", default=list(WAYS), choices=WAYS)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--out", type=Path)
    return parser.parse_args(words)


def main(words: Sequence[str] | None = None) -> None:
    """Runs the objects and prints what came out."""
    options = _arguments(words)
    chosen, start, found = plans(options.boards), time.perf_counter(), []
    jobs = [
        (plan.name, list(range(place, options.cases, len(chosen)))[first : first + AT_ONCE])
        for first in range(0, options.cases, AT_ONCE)
        for place, plan in enumerate(chosen)
    ]
    with ProcessPoolExecutor(options.processes) as pool:
        for some in pool.map(partial(outcomes_of, options=options), [job for job in jobs if job[1]]):
            found += some
            if options.out:
                options.out.write_text("".join(json.dumps(asdict(one)) + "\n" for one in found), "utf-8")
    print(report(found, options.ways))
    done = len({(one.board, one.number) for one in found})
    print(f"{done} of {options.cases} objects, the others left out because ngspice settled on no answer to a test")
    print(f"seed {options.seed}, {time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main()
