"""
Walk the ramp of many random boards in ngspice, each with a short in its supply, and count what would have burnt.

    python benchmarks/switch_on.py [BOARDS]

Beside the plan stand two things people do: full voltage at once with the limit set to the healthy full current (plus
the same margin), and full voltage from a strong supply.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "switch_on"))

from random_supplies import limited_point, made, walk

from kilter.services.plan_switch_on import plan_switch_on
from kilter.simulate.ngspice.worker import NgspiceWorker


def main() -> None:
    """Prints the counts."""
    boards = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    counts = dict.fromkeys(("plan", "limit", "strong"), 0)
    stopped, planning = [], []
    with NgspiceWorker() as worker:
        for seed in range(boards):
            one = made(seed, worker)
            with tempfile.TemporaryDirectory() as folder:
                board = one.write(Path(folder))
            began = time.perf_counter()
            ramp = plan_switch_on(board).whole
            planning.append(time.perf_counter() - began)
            if ramp is None:
                raise SystemExit(f"board {seed}: no ramp")
            outcome = walk(one, ramp, worker)
            counts["plan"] += outcome.times > 1.0
            stopped.append(-1 if outcome.stopped is None else outcome.stopped)
            for name, limit in (("limit", ramp.steps[-1].limit), ("strong", np.inf)):
                _, heat, _ = limited_point(one, one.supply, limit, worker)
                counts[name] += any(watts > one.watts[ref] for ref, watts in heat.items() if ref != one.short[0])
    steps = np.array(stopped)
    print(f"{boards} boards with a short of 0.1 to 5 ohm; a healthy part beyond its rating in")
    print(f"  the ramp as planned                         {counts['plan']:4d}")
    print(f"  full voltage at once with the limit at full {counts['limit']:4d}")
    print(f"  full voltage at once from a strong supply   {counts['strong']:4d}")
    print(f"Stopped at step 1: {100 * np.mean(steps == 0):.0f} %, at all: {100 * np.mean(steps >= 0):.0f} %.")
    print(f"Planning: {1e3 * np.median(planning):.0f} ms median.")


if __name__ == "__main__":
    main()
