"""What passive parts are there for: decoupling, pull-ups, load capacitors of a crystal."""

from __future__ import annotations

from collections.abc import Iterator

from kilter.circuit.board import GROUND, Board
from kilter.circuit.inference.inference import Inference
from kilter.circuit.inference.rails import is_capacitor, other_end
from kilter.measure.tables import table
from kilter.records.part import Part

Roles = dict[str, str]
"""Reference to a few words on what the part is there for."""


def decoupling(board: Board, supplies: dict[str, bool], roles: Roles) -> Iterator[Inference]:
    """Capacitors between a supply and ground."""
    for net in supplies:
        refs = [part.ref for part in board.parts.values() if is_capacitor(part) and other_end(part, net) == GROUND]
        if refs:
            roles.update(dict.fromkeys(refs, f"decouples {net}"))
            yield Inference("decoupling", tuple(refs), f"{_listed(refs)} taken to decouple {net}: from it to ground.")


def pull_ups(board: Board, supplies: dict[str, bool], roles: Roles) -> Iterator[Inference]:
    """Resistors and networks between a supply and a signal that a chip, a connector or a switch is on."""
    rules = table("board_inference")["pull_up"]
    signals = {net for part in board.parts.values() if part.kind in rules["kinds"] for net in part.pins.values()}
    signals -= {*supplies, GROUND}
    for net in supplies:
        refs = [part.ref for part in board.parts.values() if _pulls(part, net, signals, rules["least"], rules["most"])]
        if refs:
            roles.update(dict.fromkeys(refs, f"pulls up to {net}"))
            yield Inference("pull-up", tuple(refs), f"{_listed(refs)} taken to pull signals up to {net}.")


def _pulls(part: Part, supply: str, signals: set[str], least: float, most: float) -> bool:
    if part.kind == "resistor_network":
        ends = list(part.pins.values())
        return ends.count(supply) == 1 and len(ends) > 3 and sum(end in signals for end in ends) >= 2
    if part.kind != "resistor" or part.number is None or not least <= part.number <= most:
        return False
    return other_end(part, supply) in signals


def crystals(board: Board, roles: Roles) -> Iterator[Inference]:
    """Crystals with a small capacitor from each pin to ground."""
    most = float(table("board_inference")["crystal"]["load_most"])
    for crystal in (part for part in board.parts.values() if part.kind == "crystal"):
        nets = [net for net in dict.fromkeys(crystal.pins.values()) if net != GROUND]
        loads = [_loads(board, net, most) for net in nets]
        if len(nets) == 2 and all(loads):
            refs = [ref for found in loads for ref in found]
            roles.update(dict.fromkeys(refs, f"loads {crystal.ref}"))
            yield Inference("crystal", (crystal.ref, *refs),
                            f"{_listed(refs)} taken as load capacitors of {crystal.ref}.")  # fmt: skip


def _loads(board: Board, net: str, most: float) -> list[str]:
    return [part.ref for part in board.parts.values()
            if is_capacitor(part) and other_end(part, net) == GROUND
            and part.number is not None and part.number <= most]  # fmt: skip


def _listed(refs: list[str]) -> str:
    return f"{', '.join(refs)} {'is' if len(refs) == 1 else 'are'}"
