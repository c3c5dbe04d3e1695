"""From the diagnosis of an object to what it may want: one finding for each set of parts that would make it work."""

from __future__ import annotations

from math import prod

from kilter.circuit.board import Board
from kilter.diagnose.posterior import Posterior
from kilter.planning.allocation.problem import Finding
from kilter.planning.numbers import number
from kilter.planning.options.catalogue import success
from kilter.planning.part_types import part_type
from kilter.simulate.prediction import Fault

CONTACT = "contact"


def findings_of(board: Board, posterior: Posterior) -> tuple[Finding, ...]:
    """
    What an object may want, likeliest first.

    Every fault set asks for one piece of each faulty part's type; sets that ask for the same pieces are one finding. A
    pin that does not connect asks for no piece. The chance of a finding is that of its fault sets times the chance that
    fitting goes well; what is not in the model, and sets that were not visited, remain what no reserved part cures.
    """
    chances: dict[tuple[tuple[str, int], ...], float] = {}
    words: dict[tuple[tuple[str, int], ...], tuple[float, str]] = {}
    for one, weight in zip(posterior.hypotheses, posterior.weights, strict=True):
        faults = sorted(posterior.faults_now(one))
        needs: dict[str, int] = {}
        for ref in dict.fromkeys(ref for ref, mode in faults if not _is_contact(mode)):
            name = part_type(board.parts[ref])
            needs[name] = needs.get(name, 0) + 1
        key = tuple(sorted(needs.items()))
        chances[key] = chances.get(key, 0.0) + float(weight) * prod(_goes_well(fault) for fault in faults)
        if float(weight) > words.get(key, (0.0, ""))[0]:
            words[key] = float(weight), " and ".join(f"{ref} {mode}" for ref, mode in faults) or "nothing wrong"
    order = sorted(chances, key=lambda key: (-chances[key], key))
    return tuple(Finding(chances[key], dict(key), words[key][1]) for key in order if chances[key] > 0)


def _is_contact(mode: str) -> bool:
    return success({CONTACT: 1.0}, mode) > 0


def _goes_well(fault: Fault) -> float:
    """Chance that the usual treatment of one fault removes it, the piece itself left out."""
    return number("repair_options", "contact_mended" if _is_contact(fault[1]) else "fitting")
