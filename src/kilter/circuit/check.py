"""
Look a board over before anything is predicted from it: what is missing, what hangs in the air, what was guessed.

A finding is no verdict on the object, only on what was written down about it; a board without findings may still be
wrong.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sized

from kilter.circuit.board import GROUND, Board
from kilter.circuit.check_circuit import circuit_findings
from kilter.circuit.finding import DOUBT, LEVELS, NOTE, WRONG, Finding
from kilter.records.part import Part


def check_board(board: Board, modes_of: Callable[[Part], Sized] | None = None) -> tuple[Finding, ...]:
    """
    Everything worth a look about a board, the gravest first.

    Args:
        board: As read.
        modes_of: Failure modes of a part; where it is given, parts without any are found too.
    """
    found = [
        *_emptiness(board), *circuit_findings(board), *_nets(board), *_points(board), *_rails(board), *_blocks(board),
        *_parts(board, modes_of), *_from_import(board),
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda finding: LEVELS.index(finding.level)))


def known_nets(board: Board) -> set[str]:
    """Every net that an element, a part, a rail or a block's signal names, and ground."""
    nets = {GROUND}
    nets.update(node for element in board.elements.values() for node in element.nodes)
    nets.update(net for part in board.parts.values() for net in part.pins.values())
    nets.update(rail.net for rail in board.rails.values())
    for block in board.blocks.values():
        nets.update((*block.inputs.values(), *block.outputs.values()))
    return nets


def _emptiness(board: Board) -> Iterator[Finding]:
    if not board.parts:
        yield Finding(WRONG, board.name, "The board has no part, so nothing on it can be at fault.")
    if not board.points:
        yield Finding(WRONG, board.name, "The board has no point, so nothing on it can be read.")
    if not board.elements and not board.blocks:
        yield Finding(
            DOUBT, board.name,
            "The board has neither a circuit nor blocks, so nothing can be predicted from it but what an eye sees.",
        )  # fmt: skip
    if not any(state.powered for state in board.states.values()):
        yield Finding(DOUBT, board.name, "No state is powered, so only unpowered readings can be predicted.")


def _nets(board: Board) -> Iterator[Finding]:
    """Nets that only one pin touches."""
    ends: Counter[str] = Counter(net for part in board.parts.values() for net in part.pins.values())
    signals = {s for block in board.blocks.values() for s in (*block.inputs.values(), *block.outputs.values())}
    rails = {rail.net for rail in board.rails.values()}
    for element in board.elements.values():
        if not element.part:
            ends.update(element.nodes)
    for net, pins in board.nets().items():
        if ends[net] == 1 and net not in signals | rails | {GROUND}:
            yield Finding(DOUBT, net, f"The net {net} ends at the one pin {pins[0]}; is something missing there?")


def _points(board: Board) -> Iterator[Finding]:
    nets = known_nets(board)
    for point in board.points.values():
        for net in (point.net, point.against):
            if net not in nets:
                yield Finding(WRONG, point.name, f"The point {point.name} is on the net {net}, which nothing touches.")


def _rails(board: Board) -> Iterator[Finding]:
    touched = {node for element in board.elements.values() for node in element.nodes}
    for rail in board.rails.values():
        if board.elements and rail.net not in touched:
            yield Finding(DOUBT, rail.name, f"The rail {rail.name} is on the net {rail.net}, which the circuit lacks.")


def _blocks(board: Board) -> Iterator[Finding]:
    drivers = Counter(signal for block in board.blocks.values() for signal in block.outputs.values())
    touched = {node for element in board.elements.values() for node in element.nodes}
    for signal, count in drivers.items():
        if count > 1:
            yield Finding(DOUBT, signal, f"The signal {signal} is the output of {count} blocks.")
    for block in board.blocks.values():
        for port, signal in block.inputs.items():
            if signal not in drivers and signal not in touched:
                words = f"Nothing drives {signal}, the input {port} of {block.name}; it counts as unknown."
                yield Finding(DOUBT, block.name, words)
        for need in block.needs:
            if need.point not in board.points and need.point not in touched:
                words = f"{block.name} needs a voltage at {need.point}, which nothing touches."
                yield Finding(WRONG, block.name, words)
        if not block.parts:
            yield Finding(NOTE, block.name, f"{block.name} has no part, so it can never be the culprit.")


def _parts(board: Board, modes_of: Callable[[Part], Sized] | None) -> Iterator[Finding]:
    felt = {element.part for element in board.elements.values()}
    felt.update(ref for block in board.blocks.values() for ref in block.parts)
    for part in board.parts.values():
        if modes_of is not None and not len(modes_of(part)):
            yield Finding(WRONG, part.ref, f"{part.ref} ({part.kind}) has no failure mode, so it is never suspected.")
        if part.ref not in felt and (board.elements or board.blocks):
            yield Finding(
                DOUBT, part.ref,
                f"{part.ref} is in no element and no block: its faults change no prediction but what an eye sees.",
            )  # fmt: skip


def _from_import(board: Board) -> Iterable[Finding]:
    yield from (Finding(DOUBT, board.source or board.name, warning) for warning in board.warnings)
    yield from (Finding(NOTE, board.source or board.name, guess) for guess in board.guesses)
