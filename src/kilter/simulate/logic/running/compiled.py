"""The kernel, plain or compiled: one source, compiled where numba is installed and the run is long enough."""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path
from types import ModuleType

from kilter.measure.errors import BadInput, NotAvailable
from kilter.simulate.logic.engine import ENGINES
from kilter.simulate.logic.running import kernel

FUNCTIONS = (
    "bite", "seen_by", "join_bridges", "resolve", "changed", "drive", "work_out", "settle", "register_output",
    "put_register", "clock_on", "note", "play",
)  # fmt: skip
"""In an order in which callees come first."""


def kernel_for(engine: str, *, long: bool) -> ModuleType:
    """
    The module that runs.

    Raises:
        BadInput: No engine of that name.
        NotAvailable: The compiled one was asked for by name and numba is absent.
    """
    if engine not in ENGINES:
        doing = "Cannot choose a logic engine"
        raise BadInput(doing, f"the name '{engine}'", ", ".join(ENGINES), "Use one of these names.")
    there = find_spec("numba") is not None
    if engine == "compiled" and not there:
        doing = "Cannot use the compiled logic engine"
        raise NotAvailable(doing, "no numba on this machine", "auto, plain", "Install the extra 'fast' or use plain.")
    return compiled_kernel() if there and (engine == "compiled" or (engine == "auto" and long)) else kernel


@cache
def compiled_kernel() -> ModuleType:
    """A second copy of the kernel whose functions are compiled; it calls its own, not those of the first."""
    from numba import njit

    path = Path(str(kernel.__file__))
    copy = ModuleType(f"{kernel.__name__}_compiled")
    copy.__file__ = str(path)
    exec(compile(path.read_text("utf-8"), str(path), "exec"), copy.__dict__)
    for name in FUNCTIONS:
        setattr(copy, name, njit(cache=True)(getattr(copy, name)))
    return copy
