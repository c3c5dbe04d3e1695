"""All rules in their order: ground first, then supplies, then what hangs on them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from kilter.circuit.board import Board
from kilter.circuit.inference.ground import with_ground
from kilter.circuit.inference.inference import DOUBT, Inference
from kilter.circuit.inference.rails import rails_of, supply_nets
from kilter.circuit.inference.regulators import made_by, regulators
from kilter.circuit.inference.roles import Roles, crystals, decoupling, pull_ups
from kilter.circuit.inference.supply_pins import name_supply_pins, size_of


def infer(board: Board, pin_counts: Mapping[str, int] | None = None) -> tuple[Board, tuple[Inference, ...]]:
    """
    What a board's parts, values and nets tell.

    Args:
        board: With parts; their kinds are taken as they are.
        pin_counts: Pins of each part, connected or not; the largest pin number counts where it is missing.

    Returns:
        The board with ground, rails, supply pins and the roles of parts, its guesses and warnings extended; and the
        same conclusions one by one.
    """
    board, found = with_ground(board)
    supplies = supply_nets(board)
    made = made_by(board)
    supplies |= {net: False for net in made if net not in supplies}
    rails, of_rails = rails_of(supplies, made)
    found += of_rails
    counts = {ref: size_of(part) for ref, part in board.parts.items()} | dict(pin_counts or {})
    board, of_pins = name_supply_pins(board, supplies, counts)
    roles: Roles = {}
    found += [*of_pins, *regulators(board, made), *decoupling(board, supplies, roles)]
    found += [*pull_ups(board, supplies, roles), *crystals(board, roles)]
    parts = {ref: replace(part, notes=(*part.notes, roles[ref])) if ref in roles else part
             for ref, part in board.parts.items()}  # fmt: skip
    board = replace(
        board, parts=parts, rails=rails | dict(board.rails),
        guesses=board.guesses + tuple(one.words for one in found if one.level != DOUBT),
        warnings=board.warnings + tuple(one.words for one in found if one.level == DOUBT),
    )  # fmt: skip
    return board, tuple(found)
