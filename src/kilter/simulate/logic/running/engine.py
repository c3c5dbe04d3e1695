"""The kernel, plain or compiled: one source, compiled where numba is installed and the run is long enough."""

from __future__ import annotations

from importlib import import_module
from importlib.util import find_spec
from types import ModuleType

from kilter.measure.errors import BadInput, NotAvailable
from kilter.simulate.logic.engine import ENGINES


def kernel_for(engine: str, *, long: bool) -> ModuleType:
    """
    The module that runs, imported only now: loading numba takes longer than most questions.

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
    compiled = there and (engine == "compiled" or (engine == "auto" and long))
    return import_module(f"kilter.simulate.logic.running.{'kernel_compiled' if compiled else 'kernel'}")
