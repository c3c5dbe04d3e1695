"""Evidence about parts from elsewhere, as far as this board's parts can fail in that way."""

from __future__ import annotations

from collections.abc import Mapping

from kilter.circuit.board import Board
from kilter.measure.errors import BadInput
from kilter.parts.kinds import modes_of
from kilter.simulate.prediction import Fault


def applicable(board: Board, evidence: Mapping[Fault, float]) -> tuple[dict[Fault, float], tuple[Fault, ...]]:
    """
    The evidence that the board can use, and the modes that its parts do not have.

    Raises:
        BadInput: It speaks of a part that the board has not.
    """
    strangers = sorted({part for part, _ in evidence} - board.parts.keys())
    if strangers:
        raise BadInput(
            "Cannot use the evidence about parts", f"the part '{strangers[0]}'", ", ".join(list(board.parts)[:40]),
            "Use the references of this board, or leave the evidence out.",
        )  # fmt: skip
    modes = {(ref, mode.key) for ref in {part for part, _ in evidence} for mode in modes_of(board.parts[ref])}
    return {fault: ratio for fault, ratio in evidence.items() if fault in modes}, tuple(sorted(evidence.keys() - modes))
