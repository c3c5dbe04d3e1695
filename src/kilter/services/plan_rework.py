"""Plan how one cure of one part is carried out."""

from __future__ import annotations

from typing import Any

from kilter.circuit.board import Board
from kilter.measure.errors import BadInput
from kilter.planning.options.cure import Cure
from kilter.planning.options.rank import Ranking
from kilter.planning.options.rework import Rework, rework
from kilter.safety.hazards import hazards

LISTED = 12


def plan_rework(board: Board, ranking: Ranking, asked: str, *, leak: str = "", heated_before: int = 0) -> Rework:
    """
    The rework plan of a cure that was weighed.

    Args:
        board: For the part and for hazards at repair.
        ranking: Of the cures.
        asked: 'PART:OPTION', such as 'U8:socket original'; 'PART' takes the best cure of that part alone.
        leak: What leaked there, '' where nothing did.
        heated_before: Times that its joints were heated before.

    Raises:
        BadInput: No such cure was weighed, or no such leak.
    """
    ref, _, key = asked.partition(":")
    alone = [one.cure for one in ranking.choices if len(one.cure.parts) == 1]
    mine = [one for one in alone if one.parts[0] == ref.strip() and key.strip() in ("", one.key)]
    if not mine:
        raise BadInput(
            "Cannot plan the rework", f"'{asked}'", _listed(alone), "Name a part and an option that was weighed."
        )
    return rework(board.parts[mine[0].parts[0]], mine[0], leak=leak, heated_before=heated_before)


def repair_hazards(board: Board) -> tuple[str, ...]:
    """Cautions that the board's own hazards bring up at repair and at every step."""
    some = [one for one in hazards(board) if one.at in ("repair", "any", "unpowered")]
    return tuple(dict.fromkeys(caution for one in some for caution in one.cautions))


def plain_rework(plan: Rework, more: tuple[str, ...]) -> dict[str, Any]:
    """As plain data; the machine interface (docs/machine-interface.md)."""
    return {
        "parts": list(plan.cure.parts), "option": plan.cure.key, "joints": plan.joints, "heat_cycles": plan.heat,
        "heat_cycles_left": plan.most_heat, "too_hot": plan.too_hot, "steps": list(plan.steps), "cleaning": plan.clean,
        "cautions": [*plan.cautions, *more],
    }  # fmt: skip


def _listed(cures: list[Cure]) -> str:
    names = [f"{one.parts[0]}:{one.key}" for one in cures]
    return ", ".join(names[:LISTED]) + (f" and {len(names) - LISTED} more" if len(names) > LISTED else "") or "nothing"
