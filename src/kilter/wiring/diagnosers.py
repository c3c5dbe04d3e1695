"""A diagnoser with everything that this machine offers: ngspice answers the lanes that the fast engine does not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager

from kilter.circuit.board import Board
from kilter.diagnose.cost import Effort
from kilter.diagnose.enumerate import Limits
from kilter.services.diagnose import Diagnoser
from kilter.simulate.chain import usual_chain
from kilter.simulate.circuit.fallback import Fallback
from kilter.simulate.prediction import Fault
from kilter.simulate.reference import KnownGood, with_reference


@contextmanager
def diagnoser(
    board: Board,
    *,
    at_hand: Sequence[str] = (),
    power_checks: bool = False,
    limits: Limits | None = None,
    known_good: Sequence[str] = (),
    evidence: Mapping[Fault, float] | None = None,
    not_working: bool = True,
    odds: Mapping[Fault, float] | None = None,
    effort: Effort | None = None,
    reference: KnownGood | None = None,
) -> Iterator[Diagnoser]:
    """
    A diagnoser whose second engine is put away when the block ends; the arguments are those of `Diagnoser`.

    Args:
        reference: Readings of known-good boards, for what neither the circuit nor the blocks answer.
    """
    with Fallback() as fallback:
        chain = usual_chain(board, fallback=fallback)
        yield Diagnoser(
            board,
            with_reference(chain, reference) if reference is not None else chain,
            at_hand=at_hand,
            power_checks=power_checks,
            limits=limits,
            known_good=known_good,
            evidence=evidence or {},
            not_working=not_working,
            odds=odds or {},
            effort=effort or Effort(),
        )
