"""What the faults of parts do to blocks and rails: from (part, mode) to a mask over hypotheses."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from kilter.circuit.board import GROUND, Block, Board, State
from kilter.measure.tables import table
from kilter.parts.kinds import GIVES, Change, Mode, part_kind
from kilter.records.part import Part
from kilter.simulate.activity.block_kinds import block_kind, effects, refuse_number
from kilter.simulate.activity.pairs import pairs_of
from kilter.simulate.activity.signal import NAN, Floats, Mask
from kilter.simulate.activity.wires import net_of
from kilter.simulate.circuit.faults import mode_of, present_faults
from kilter.simulate.prediction import Hypothesis

Mark = tuple[str, str, str]
"""('block', name, effect), ('gives', block, number), ('input' or 'output', block, port) or ('rail', name, 'short')."""

Marks = frozenset[Mark]


@dataclass(frozen=True)
class Suffering:
    """
    Marks of every hypothesis.

    Args:
        lanes: Number of hypotheses, H.
        present: For each mark, where it is present, shape (H, 1).
        numbers: For each block with the effect 'gives', the number that it holds, NaN elsewhere, shape (H, 1).
    """

    lanes: int
    present: dict[Mark, Mask] = field(default_factory=dict)
    numbers: dict[str, Floats] = field(default_factory=dict)

    def where(self, mark: Mark) -> Mask:
        """Where a mark is present; one that no hypothesis has is nowhere."""
        return self.present.get(mark, np.zeros((1, 1), np.bool_))

    def held(self, block: str) -> Floats:
        """The number that a faulty member makes a block hold; NaN where none does."""
        return self.numbers.get(block, np.full((1, 1), NAN))

    def note(self, mark: Mark, lane: int) -> None:
        """Marks one lane; where two members hold a block at two numbers, what comes out is not known."""
        what, name, word = mark
        if what == GIVES:
            held = self.numbers.setdefault(name, np.full((self.lanes, 1), NAN))
            if not np.isnan(held[lane, 0]) and held[lane, 0] != float(word):
                self.note(("block", name, "wrong"), lane)
            held[lane] = float(word)
            mark = ("block", name, GIVES)
        self.present.setdefault(mark, np.zeros((self.lanes, 1), np.bool_))[lane] = True


def suffering(board: Board, state: State, hypotheses: Sequence[Hypothesis], *, circuit: bool) -> Suffering:
    """
    Every hypothesis' marks in one state.

    Args:
        board: The board.
        state: How it stands.
        hypotheses: Sets of faults.
        circuit: Whether a circuit predictor tells what the elements feel; else the blocks have to bear it all.

    Raises:
        BadInput: A fault names a part or a mode that there is not.
    """
    board = board if circuit else replace(board, elements={})
    always = _marks_of_state(board, state)
    found = Suffering(len(hypotheses), {mark: np.ones((len(hypotheses), 1), np.bool_) for mark in always})
    known: dict[tuple[str, str], Marks] = {}
    for lane, hypothesis in enumerate(hypotheses):
        for fault in present_faults(state, hypothesis):
            if fault not in known:
                known[fault] = _marks_of_fault(board, board.parts.get(fault[0]), mode_of(board, *fault))
            for mark in known[fault]:
                found.note(mark, lane)
    return found


def _marks_of_state(board: Board, state: State) -> Marks:
    """Parts that are out of their place and pins that are lifted."""
    marks: set[Mark] = set()
    for block in board.blocks.values():
        for ref in (ref for ref in block.parts if ref in state.unplugged):
            if ref == block.parts[0]:
                marks |= {("output", block.name, port) for port in block.outputs}
            elif ref in board.parts:
                marks |= set(_on(board, block, board.parts[ref], _opened(*board.parts[ref].pins)))
    for ref, _, pin in (place.partition(".") for place in state.lifted):
        if ref in board.parts:
            marks |= _marks_of_fault(board, board.parts[ref], _opened(pin))
    return frozenset(marks)


def _opened(*pins: str) -> Mode:
    """What a hand does that unplugs a part or lifts a pin; a part without pins is open all the same."""
    return Mode("open", "open", 0.0, tuple(Change("open", (pin,)) for pin in pins or ("1",)))


def _marks_of_fault(board: Board, part: Part | None, mode: Mode) -> Marks:
    if part is None:
        return frozenset()
    own = (mark for block in board.blocks.values() if part.ref in block.parts for mark in _on(board, block, part, mode))
    return frozenset(own) | _shorted_rails(board, part, mode)


def _on(board: Board, block: Block, part: Part, mode: Mode) -> Iterable[Mark]:
    """
    What one mode of a member does to its block.

    A mode with a block effect has that. A pin that does not connect cuts the port or rail that hangs on it. What the
    circuit feels reaches the block through its needs, and a part that hangs between rails through these. For the rest,
    such as an open timing resistor of a block without needs, or an open coupling capacitor, the member table speaks.
    """
    if mode.block.startswith(f"{GIVES} "):
        number = mode.block.removeprefix(f"{GIVES} ")
        refuse_number(block, part.ref, int(number))
        return [(GIVES, block.name, number)]
    if mode.block:
        return [("block", block.name, _understood(block, mode.block))]
    chip, felt = part.ref == block.parts[0], _feels(board, part, mode)
    pins = [change.pins[0] for change in mode.circuit if change.verb == "open"]
    wired = [mark for pin in pins if pin in part.pins for mark in _cut(board, block, part.pins[pin])]
    if wired and (chip or part_kind(part.kind).each_pin_open):
        return wired
    if pairs_of(board, block) and (_between_rails(board, part) or (felt and block.needs)):
        return []
    if pins and chip and len(part.pins) > 2:
        return [("block", block.name, "wrong")]  # a pin of which nobody wrote down what it does
    return [("block", block.name, _member(_manner(mode)))]


def _cut(board: Board, block: Block, net: str) -> Iterable[Mark]:
    """A pin that does not connect: what of the block hangs on its net."""
    if net == GROUND or any(board.rails[rail].net == net for rail in block.rails if rail in board.rails):
        yield ("block", block.name, "dead")
    for direction, ports in (("input", block.inputs), ("output", block.outputs)):
        for port, signal in ports.items():
            if net_of(board, signal) == net:
                yield (direction, block.name, port)


def _shorted_rails(board: Board, part: Part, mode: Mode) -> Marks:
    """Rails that a short inside a part pulls to ground; where there is a circuit, it says so better."""
    if board.elements:
        return frozenset()
    shorts = [change for change in mode.circuit if _manner_of(change) == "bridge"]
    pairs = [{part.pins.get(pin, "") for pin in change.pins} for change in shorts]
    nets = {net for pair in pairs if GROUND in pair for net in pair}
    return frozenset(("rail", rail.name, "short") for rail in board.rails.values() if rail.net in nets - {GROUND})


def _understood(block: Block, effect: str) -> str:
    """An effect that the block's kind cannot make sense of counts as 'wrong'."""
    known = effects().get(effect)
    if known is None or (known.only and block_kind(block).act not in known.only):
        return "wrong"
    return effect


def _in_circuit(board: Board, ref: str) -> bool:
    return any(element.part == ref for element in board.elements.values())


def _feels(board: Board, part: Part, mode: Mode) -> bool:
    """
    Whether the DC circuit notices: an element of the part stands on a net that the mode touches, or has its number.

    Of a capacitor it notices bridges only, of a coil no change of its value.
    """
    nets = {part.pins.get(pin, "") for change in mode.circuit for pin in change.pins}
    verbs = {change.verb for change in mode.circuit}
    own = [element for element in board.elements.values() if element.part == part.ref]
    if verbs & {"scale", "set"}:
        return any(element.kind not in "CL" for element in own)
    return any(nets & set(element.nodes) and (element.kind != "C" or verbs == {"bridge"}) for element in own)


def _between_rails(board: Board, part: Part) -> bool:
    """Whether it hangs on nothing but rails and ground, and stands in the circuit."""
    nets = {GROUND, *(rail.net for rail in board.rails.values())}
    return _in_circuit(board, part.ref) and len(part.pins) == 2 and nets.issuperset(part.pins.values())


def _manner(mode: Mode) -> str:
    return _manner_of(mode.circuit[0]) if mode.circuit else "none"


def _manner_of(change: Change) -> str:
    leaking = change.verb == "bridge" and change.amount > float(table("block_kinds")["member"]["short_ohm"])
    return "leak" if leaking else change.verb


def _member(manner: str) -> str:
    return str(table("block_kinds")["member"][manner])
