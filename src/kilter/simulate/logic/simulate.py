"""The good machine: what every net does under every vector."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kilter.measure.errors import BadInput
from kilter.simulate.logic.engine import engine_module
from kilter.simulate.logic.lanes import Vectors, pack, unpack
from kilter.simulate.logic.levels import Levelled, Words, levelled
from kilter.simulate.logic.netlist import LogicNetlist


def simulate(logic: Levelled, vectors: Vectors, *, engine: str = "auto") -> Words:
    """
    Packed values of every net row, shape (nets, n_words); bits past the last vector mean nothing.

    Raises:
        BadInput: The vectors are for another number of inputs.
    """
    check_width(logic, vectors)
    values: Words = engine_module(engine).settle(logic, vectors)
    return values


def truth(netlist: LogicNetlist, inputs: ArrayLike, *, engine: str = "plain") -> NDArray[np.bool_]:
    """
    Outputs for rows of input bits, shape (n_vectors, n_outputs).

    >>> from kilter.simulate.logic.netlist import Gate
    >>> adder = LogicNetlist((Gate("xor", ("a", "b"), "s"), Gate("and", ("a", "b"), "c")), ("a", "b"), ("c", "s"))
    >>> truth(adder, [[0, 1], [1, 1]]).astype(int).tolist()
    [[0, 1], [1, 0]]
    """
    logic, vectors = levelled(netlist), pack(inputs)
    return unpack(simulate(logic, vectors, engine=engine)[logic.outputs], vectors.count)


def check_width(logic: Levelled, vectors: Vectors) -> None:
    """
    Refuse vectors that do not fit the netlist.

    Raises:
        BadInput: They are for another number of inputs.
    """
    if len(vectors.words) != logic.n_inputs:
        raise BadInput(
            f"Cannot simulate the logic netlist {logic.netlist.name}",
            f"vectors of {len(vectors.words)} bits",
            f"{logic.n_inputs} bits, one for each input",
            "Give one bit for each input, in the netlist's order.",
        )
