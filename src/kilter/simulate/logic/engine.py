"""Which engine answers: the compiled one where numba is installed, the plain one elsewhere; both say the same."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from importlib.util import find_spec
from types import ModuleType
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import BadInput, NotAvailable
from kilter.simulate.logic.lanes import Vectors
from kilter.simulate.logic.levels import Levelled, Words

ENGINES = ("auto", "compiled", "plain")


class Sweep(Protocol):
    """An engine with its plan for one netlist and one fault list; each engine's module has one of this name."""

    def run(self, vectors: Vectors) -> tuple[NDArray[np.int64], Words]:
        """Detections and signature of every fault."""


def make_sweep(levelled: Levelled, placed: Sequence[tuple[int, int, int]], engine: str = "auto") -> Sweep:
    """
    An engine ready to run vectors through one netlist and fault list.

    Raises:
        BadInput: No engine of that name.
        NotAvailable: The compiled engine was asked for by name and numba is absent.
    """
    sweep: Sweep = engine_module(engine).Sweep(levelled, placed)
    return sweep


def engine_module(engine: str) -> ModuleType:
    """The module that answers, imported only now: loading numba takes longer than most questions."""
    if engine not in ENGINES:
        doing = "Cannot choose a logic engine"
        raise BadInput(doing, f"the name '{engine}'", ", ".join(ENGINES), "Use one of these names.")
    compiled = find_spec("numba") is not None
    if engine == "compiled" and not compiled:
        doing = "Cannot use the compiled logic engine"
        raise NotAvailable(doing, "no numba on this machine", "auto, plain", "Install the extra 'fast' or use plain.")
    plain = engine == "plain" or not compiled
    return import_module(f"kilter.simulate.logic.{'plain' if plain else 'compiled'}")
