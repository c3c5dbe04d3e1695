"""Operating points of circuit elements, put back into the equations before they are believed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from kilter.circuit.board import GROUND, Element
from kilter.simulate.ngspice.analyses import Point
from kilter.simulate.ngspice.library import NotSettled
from kilter.simulate.ngspice.names import node_name
from kilter.simulate.ngspice.netlist_text import spice_text
from kilter.simulate.ngspice.settings import pivot_thresholds, tight_options
from kilter.simulate.ngspice.soundness import unsound
from kilter.simulate.ngspice.worker import NgspiceWorker


def sound_point(
    worker: NgspiceWorker,
    elements: Sequence[Element],
    *,
    options: Mapping[str, float] | None = None,
    pivots: Sequence[float] | None = None,
) -> Point:
    """
    The operating point at direct current, in ngspice's names.

    Args:
        worker: A started worker.
        elements: With faults applied.
        options: Simulator options in place of the tight ones.
        pivots: Pivot thresholds, tried in order until an answer is sound; those of the data file unless said.

    Raises:
        NotSettled: No pivot threshold gave an answer that obeys the linear equations.
        BadInput: An element that cannot be written.
    """
    settings = tight_options() if options is None else options
    reasons = []
    for pivot in pivots or pivot_thresholds():
        try:
            point = worker.operating_point(spice_text(elements, options={**settings, "pivrel": pivot}))
        except NotSettled as error:
            reasons.append(error.found)
            continue
        reason = unsound(elements, point)
        if not reason:
            return point
        reasons.append(reason)
    raise NotSettled(
        "Cannot settle the circuit with ngspice",
        "; ".join(dict.fromkeys(reasons)),
        "circuits that give an answer which obeys its own equations",
        "Take what it would read as unknown.",
    )


def net_voltages(
    worker: NgspiceWorker,
    elements: Sequence[Element],
    *,
    options: Mapping[str, float] | None = None,
    pivots: Sequence[float] | None = None,
) -> dict[str, float]:
    """The same as the voltage of every net against ground. [V]"""
    point = sound_point(worker, elements, options=options, pivots=pivots)
    nets = {net for element in elements for net in element.nodes} - {GROUND}
    return {GROUND: 0.0} | {net: point[node_name(net)] for net in nets}
