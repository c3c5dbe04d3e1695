"""
All collapsed single stuck-at faults times 1,024 random vectors, no fault dropped, full response signatures.

Run from the repository root: python benchmarks/stuck_at.py [circuit ...]
Side by side, in one process: the compiled stem method, the same method on Python integers, and the honest baseline,
one fault after the other on Python integers of 1,024 bits, working out only what lies behind the fault. Where
iverilog is installed, a `force` loop over a few faults is timed too and scaled up. Best of several runs; the machine
may be shared, so read the ratios.

Bound: a gate evaluation moves its input rows, the good row it is compared with and its result, 128 bytes each.
The last columns give the rate that makes, beside what one core reaches here when it ANDs two arrays of the size of
the circuit's values into a third and does nothing else.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import reduce
from heapq import heappop, heappush
from itertools import pairwise
from operator import or_
from pathlib import Path

import numpy as np

from kilter.importers.bench import read_bench_file
from kilter.simulate.logic.compiled import Sweep
from kilter.simulate.logic.fault_simulate import StuckAtSweep
from kilter.simulate.logic.faults import OUTPUT, STEM, StuckAt, collapsed_faults, places
from kilter.simulate.logic.lanes import Vectors, random_vectors, to_integers, unpack
from kilter.simulate.logic.levels import Levelled, levelled
from kilter.simulate.logic.plain import PlainLogic

CIRCUITS = ["c432", "c499", "c880", "c1355", "c1908", "c2670", "c3540", "c5315", "c6288", "c7552"]
FOLDER = Path("tests/data/iscas85")
ROW_BYTES = 128


def best(action: Callable[[], object], runs: int) -> float:
    """Shortest of several runs. [s]"""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return min(times)


Response = tuple[tuple[int, int], ...]


def one_by_one(logic: Levelled, vectors: Vectors, faults: list[StuckAt]) -> list[Response]:
    """The baseline: (output row, difference) pairs of every fault, each spread on its own through what lies behind."""
    machine = PlainLogic(logic, (1 << vectors.count) - 1)
    values = machine.settle([row & machine.ones for row in to_integers(vectors.words)])
    starts, owner = logic.reader_start.tolist(), logic.place_gate[logic.reader].tolist()
    readers = [sorted(set(owner[first:last])) for first, last in pairwise(starts)]
    outputs, first_place = set(logic.outputs.tolist()), logic.start.tolist()
    return [spread_one(machine, values, readers, outputs, first_place, *placed) for placed in places(logic, faults)]


def spread_one(
    machine: PlainLogic,
    values: list[int],
    readers: list[list[int]],
    outputs: set[int],
    first_place: list[int],
    row: int,
    place: int,
    value: int,
) -> Response:
    """One stuck line, event by event in level order; the values are put back at the end."""
    n_inputs, forced, good = machine.levelled.n_inputs, machine.ones if value else 0, {}
    if place == OUTPUT:
        return ((row, values[row] ^ forced),) if values[row] != forced else ()
    if place != STEM:
        gate = int(machine.levelled.place_gate[place])
        seen = [values[net] for net in machine.fanin[gate]]
        seen[place - first_place[gate]] = forced
        row, forced = n_inputs + gate, machine.gate_from(gate, seen)
    if forced == values[row]:
        return ()
    good[row], values[row] = values[row], forced
    queue = list(readers[row])
    queued = set(queue)
    while queue:
        gate = heappop(queue)
        new, out = machine.gate(gate, values), n_inputs + gate
        if new != values[out]:
            good[out], values[out] = values[out], new
            for reader in readers[out]:
                if reader not in queued:
                    queued.add(reader)
                    heappush(queue, reader)
    found = tuple((net, values[net] ^ old) for net, old in good.items() if net in outputs)
    for net, old in good.items():
        values[net] = old
    return found


def anywhere(response: Response) -> int:
    """Vectors in which some output differs."""
    return reduce(or_, (difference for _, difference in response), 0).bit_count()


def stream_rate(logic: Levelled) -> float:
    """What one core moves when it ANDs two arrays of the circuit's size into a third. [bytes/s]"""
    a, b, c = (np.ones((len(logic.nets), 16), np.uint64) for _ in range(3))
    return 3 * a.nbytes / best(lambda: np.bitwise_and(a, b, out=c), 200)


def icarus_seconds(logic: Levelled, vectors: Vectors, faults: list[StuckAt], sample: int = 8) -> float:
    """Time of a force loop in Icarus Verilog, scaled from a few stem faults to all. [s]"""
    netlist, stems = logic.netlist, [fault for fault in faults if fault.line.gate == STEM]
    rows = ["".join("01"[bit] for bit in row) for row in unpack(vectors.words, vectors.count).astype(int)]
    inputs, outputs = ", ".join(netlist.inputs), ", ".join(netlist.outputs)
    gates = "".join(f"{g.kind} g{k} ({g.output}, {', '.join(g.inputs)});\n" for k, g in enumerate(netlist.gates))
    width, wide = len(netlist.inputs), len(netlist.outputs)

    def seconds(chosen: list[StuckAt]) -> float:
        runs = "".join(
            f"force {fault.line.net} = 1'b{fault.value}; #1 all; release {fault.line.net};\n" for fault in chosen
        )
        source = (
            f"module bench; reg {inputs}; wire {', '.join(g.output for g in netlist.gates)};\n{gates}"
            f"reg [{width - 1}:0] rows [0:{len(rows) - 1}]; reg [{wide - 1}:0] sum; integer k;\n"
            f"task all; begin sum = 0; for (k = 0; k < {len(rows)}; k = k + 1) begin {{{inputs}}} = rows[k]; #1 "
            f'sum = {{sum[0], sum[{wide - 1}:1]}} ^ {{{outputs}}}; end $display("%b", sum); end endtask\n'
            f'initial begin $readmemb("rows.txt", rows);\n{runs}end\nendmodule\n'
        )
        with tempfile.TemporaryDirectory() as folder:
            (Path(folder) / "rows.txt").write_text("\n".join(rows))
            (Path(folder) / "bench.v").write_text(source)
            subprocess.run(["iverilog", "-o", "bench", "bench.v"], cwd=folder, check=True)
            return best(lambda: subprocess.run(["vvp", "-n", "bench"], cwd=folder, check=True, capture_output=True), 2)

    step = max(1, len(stems) // sample)
    chosen = stems[::step][:sample]
    return (seconds(chosen) - seconds([])) / len(chosen) * len(faults)


def measure(name: str) -> str:
    """One line of the table."""
    netlist = read_bench_file(FOLDER / f"{name}.bench")
    logic, faults = levelled(netlist), collapsed_faults(netlist)
    vectors = random_vectors(logic.n_inputs, 1024, seed=1)
    compiled, plain = StuckAtSweep(logic, faults), StuckAtSweep(logic, faults, engine="plain")
    assert isinstance(compiled.sweep, Sweep), "install the extra 'fast' to run this"
    fast, slow = compiled.run(vectors), plain.run(vectors)
    assert (fast.signatures == slow.signatures).all(), "the engines disagree"
    responses = one_by_one(logic, vectors, faults)
    assert fast.detections.tolist() == [anywhere(response) for response in responses], "the baseline disagrees"
    assert len(fast.ties()) == len(set(responses)), "the baseline tells other faults apart"
    seconds = best(lambda: compiled.run(vectors), 40)
    integers = best(lambda: plain.run(vectors), 2)
    baseline = best(lambda: one_by_one(logic, vectors, faults), 1)
    verilog = icarus_seconds(logic, vectors, faults) if shutil.which("iverilog") else float("nan")
    evaluations = compiled.sweep.evaluations
    moved = evaluations * (2 + logic.fanin.size / len(logic.gates)) * ROW_BYTES
    numbers = [seconds * 1e3, integers * 1e3, baseline * 1e3, integers / seconds, baseline / seconds]
    rates = [evaluations / seconds / 1e6, moved / seconds / 1e9, stream_rate(logic) / 1e9]
    shown = "".join(f"{number:10.3g}" for number in [*numbers, verilog / seconds, *rates])
    return f"{name:8}{len(faults):7}{len(fast.ties()):7}{shown}"


HEADS = ["ms fast", "ms plain", "ms base", "x plain", "x base", "x iveril.", "Meval/s", "GB/s", "GB/s max"]


def main() -> None:
    """Print the table."""
    print("circuit  faults differ" + "".join(f"{head:>10}" for head in HEADS))
    for name in sys.argv[1:] or CIRCUITS:
        print(measure(name), flush=True)


if __name__ == "__main__":
    main()
