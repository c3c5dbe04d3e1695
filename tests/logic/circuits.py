"""The circuits that the logic tests share, and random ones."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import numpy as np

from kilter.importers.bench import read_bench_file
from kilter.simulate.logic.netlist import Gate, LogicNetlist

DATA = Path(__file__).parents[1] / "data"
AUTHORITIES = Path(__file__).parents[2] / "authorities" / "logic"

WITH_HEADER = ["c17", "c432", "c499", "c880", "c1355", "c1908", "c2670", "c7552"]


def path(name: str) -> Path:
    """File of a circuit by its usual name."""
    return DATA / ("logic74" if name.startswith("74") else "iscas85") / f"{name}.bench"


@cache
def circuit(name: str) -> LogicNetlist:
    """A circuit by its usual name: c432, 74181..."""
    return read_bench_file(path(name))


def header(name: str, words: str) -> int:
    """The first number that follows these words in the file's header."""
    return int(re.search(rf"{re.escape(words)}\D*(\d+)", path(name).read_text())[1])


def random_netlist(seed: int, *, inputs: int = 5, gates: int = 15) -> LogicNetlist:
    """Random combinational logic of all kinds, with gates of one to four inputs, some nets unread, constants."""
    rng = np.random.default_rng(seed)
    nets = [f"i{k}" for k in range(inputs)]
    made = [Gate("zero", (), "low"), Gate("one", (), "high")]
    nets += ["low", "high"]
    for k in range(gates):
        kind = str(rng.choice(["and", "nand", "or", "nor", "xor", "xnor", "not", "buf"]))
        count = 1 if kind in ("not", "buf") else int(rng.integers(1, 5))
        made.append(Gate(kind, tuple(str(net) for net in rng.choice(nets, count)), f"g{k}"))
        nets.append(f"g{k}")
    outputs = tuple(sorted({str(net) for net in rng.choice(nets, 4)} | {f"g{gates - 1}"}))
    return LogicNetlist(tuple(made), tuple(nets[:inputs]), outputs, name=f"random {seed}")
