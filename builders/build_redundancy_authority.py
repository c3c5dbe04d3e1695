"""
Make authorities/logic/redundant-*.txt: for every collapsed fault that 8,192 random vectors leave undetected, a
vector that shows it, or the word 'redundant' where the SAT solver CaDiCaL (in python-sat) proves that none does.

Run from the repository root: python builders/build_redundancy_authority.py. Faults are numbers in the order of
collapsed_faults. c6288 is left out: its proof does not end in ten minutes.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pysat

sys.path.insert(0, "tests/logic")

from circuits import circuit
from sat_oracle import Encoded

from kilter.simulate.logic.fault_simulate import StuckAtSweep
from kilter.simulate.logic.faults import collapsed_faults
from kilter.simulate.logic.lanes import random_vectors
from kilter.simulate.logic.levels import levelled

for name in ("c2670", "c3540", "c5315", "c7552"):
    netlist = circuit(name)
    logic, faults, encoded = levelled(netlist), collapsed_faults(netlist), Encoded(netlist)
    found = StuckAtSweep(logic, faults).run(random_vectors(logic.n_inputs, 8 * 1024, seed=1))
    lines = [f"# python-sat-{pysat.__version__}"]
    for number, count in enumerate(found.detections):
        if not count:
            vector = encoded.test_vector(faults[number])
            lines.append(f"{number} {'redundant' if vector is None else ''.join(map(str, vector))}")
    Path(f"authorities/logic/redundant-{name}.txt").write_text("\n".join(lines) + "\n")
    print(name, sum(line.endswith("redundant") for line in lines), "redundant of", len(lines) - 1, "undetected")
