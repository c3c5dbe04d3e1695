"""
Boards of chips with buses, latches, flip-flops and loops, in four values, many hypotheses at once.

One lane is one vector (or one run of vectors in time) under one hypothesis. Time goes in steps: inputs change, the
logic settles, flip-flops see their clock edges, the logic settles again. Loops (and bridges) are settled in two
phases (ternary simulation after Eichelberger, from memory): what may change is first set to 'unknown' wherever the
change reaches, then worked out anew; what stays unknown depends on delays that nobody knows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import count

import numpy as np
from numpy.typing import ArrayLike, NDArray

from kilter.measure.errors import BadInput
from kilter.simulate.logic.clocking import captured, forced
from kilter.simulate.logic.defects import Defect
from kilter.simulate.logic.families import family_of
from kilter.simulate.logic.levels import gate_order
from kilter.simulate.logic.netlist import LogicNetlist, Place
from kilter.simulate.logic.overrides import Overrides, apply, overrides
from kilter.simulate.logic.planes import (
    CODES,
    Planes,
    bridged,
    contention,
    decode,
    encode,
    filled,
    gate_planes,
    invert,
    join,
    read_floating,
)


@dataclass(frozen=True)
class Trace:
    """
    What the nets did.

    Args:
        nets: Names along the last axis of `codes`.
        codes: 0, 1, 2 (nobody drives), 3 (unknown), shape (hypotheses, steps, vectors, nets).
        fighting: At least one bus had a driver high and another low, shape (hypotheses, steps, vectors).
        unsettled: How often a loop went on and on, so that what kept changing was set to unknown.
    """

    nets: tuple[str, ...]
    codes: NDArray[np.uint8]
    fighting: NDArray[np.bool_]
    unsettled: int

    def words(self, net: str) -> NDArray[np.str_]:
        """One net as '0', '1', 'Z', 'X', shape (hypotheses, steps, vectors)."""
        return np.array(list(CODES))[self.codes[..., self.nets.index(net)]]


def trace(
    netlist: LogicNetlist,
    stimulus: ArrayLike,
    hypotheses: Sequence[Iterable[Defect]] = ((),),
    *,
    nets: Sequence[str] | None = None,
) -> Trace:
    """
    Run a board through steps of input codes under each hypothesis.

    Args:
        stimulus: Codes 0, 1, 2 (Z), 3 (X), shape (steps, vectors, inputs).
        hypotheses: Defects that are all present; () is the good board.
        nets: Nets to keep, the outputs unless said.

    Raises:
        BadInput: The stimulus has another number of inputs, or codes beyond 3.

    >>> from kilter.simulate.logic.netlist import Gate
    >>> bus = LogicNetlist((Gate("tri", ("a", "e"), "y"), Gate("tri", ("b", "f"), "y")), ("a", "e", "b", "f"), ("y",))
    >>> trace(bus, [[[0, 1, 1, 0], [0, 1, 1, 1], [0, 0, 1, 0]]]).words("y")[0, 0].tolist()
    ['0', 'X', 'Z']
    """
    codes = np.asarray(stimulus, np.int64)
    _check(netlist, codes)
    kept = tuple(netlist.outputs if nets is None else nets)
    machine = _Machine(netlist, overrides(netlist, hypotheses), len(hypotheses), codes.shape[1])
    steps = [machine.step(encode(step.T), kept) for step in codes]
    shown = np.stack([shown for shown, _ in steps], axis=3)
    fighting = np.stack([fights for _, fights in steps], axis=1)
    return Trace(kept, np.moveaxis(decode(shown, codes.shape[1]), 0, -1), fighting, machine.unsettled)


class _Machine:
    """Planes of every net, shape (2, hypotheses, words), and what it takes to settle them."""

    def __init__(self, netlist: LogicNetlist, changes: Overrides, n_hypotheses: int, n_vectors: int) -> None:
        self.netlist, self.changes, self.n_vectors, self.unsettled = netlist, changes, n_vectors, 0
        self.shape = (n_hypotheses, -(-n_vectors // 64))
        self.order, looped = gate_order(netlist)
        self.iterates = looped or bool(changes.bridges)
        self.complete = {netlist.gates[index].output: index for index in self.order}
        parts = {gate.part for gate in netlist.gates} | {register.part for register in netlist.registers}
        self.open_reads = {part: family_of(netlist.chips, part).open_input for part in parts}
        self.sources = _sources(netlist)
        unknown = filled("X", self.shape)
        self.driven: dict[Place, Planes] = {place: unknown for places in self.sources.values() for place in places}
        self.values = dict.fromkeys(netlist.nets, unknown)
        self.raw, self.given, self.started = dict(self.values), dict.fromkeys(netlist.inputs, unknown), False
        for index, register in enumerate(netlist.registers):
            self._set_register(index, filled(register.start, self.shape))

    def step(self, inputs: Planes, kept: Sequence[str]) -> tuple[Planes, NDArray[np.bool_]]:
        """Apply inputs, settle, clock; the kept nets, shape (2, nets, hypotheses, words), and where buses fight."""
        before = dict(self.values)
        for number, net in enumerate(self.netlist.inputs):
            self.given[net] = np.repeat(inputs[:, number, None], self.shape[0], axis=1)
        self._settle()
        self._clock(before)
        shown = np.stack([apply(self.values[net], self.changes.shown.get(net)) for net in kept], axis=1)
        fighting = self._fighting()
        for index, register in enumerate(self.netlist.registers):
            if register.kind == "dff" and not register.clock:
                seen = self._seen(index, self.values)
                self._set_register(index, forced(seen, seen["data"]))
        return shown, fighting

    def _clock(self, before: dict[str, Planes]) -> None:
        """Let edges run through the registers until no output changes any more."""
        for turn in count():
            pending = {}
            for index, register in enumerate(self.netlist.registers):
                now, held = self._seen(index, self.values), self.driven["register", index, "output"]
                new = forced(now, captured(register, now, self._seen(index, before), held))
                if turn > len(self.netlist.registers):
                    new = new | held
                if not np.array_equal(held, new):
                    pending[index] = new
            if not pending:
                return
            self.unsettled += turn > len(self.netlist.registers)
            before = dict(self.values)
            for index, new in pending.items():
                self._set_register(index, new)
            self._settle()

    def _seen(self, index: int, values: Mapping[str, Planes]) -> dict[str, Planes]:
        """What the inputs of a register see, by role."""
        register = self.netlist.registers[index]
        return {
            role: self._read(values[net], register.part, ("register", index, role))
            for role, net in register.reads().items()
        }

    def _set_register(self, index: int, output: Planes) -> None:
        for role in self.netlist.registers[index].drives():
            self.driven["register", index, role] = output if role == "output" else invert(output)

    def _settle(self) -> None:
        """Work all nets out; with loops, first widen what may change to unknown, then narrow it down again."""
        if not self.iterates:
            self._sweep()
            return
        while self.started and self._sweep(widen=True):
            pass
        self.started = True
        for _ in range(2 * len(self.order) + 2):
            if not self._sweep():
                return
        self.unsettled += 1
        while self._sweep(widen=True):
            pass

    def _sweep(self, *, widen: bool = False) -> bool:
        """One pass over all nets in order; whether any of them changed."""
        changed = [self._resolve(net, widen=widen) for net in self.netlist.nets if net not in self.complete]
        for index in self.order:
            gate = self.netlist.gates[index]
            seen = [
                self._read(self.values[net], gate.part, ("gate", index, str(position)))
                for position, net in enumerate(gate.inputs)
            ]
            self.driven["gate", index, "output"] = gate_planes(gate.kind, seen, self.shape)
            if self.complete[gate.output] == index:
                changed.append(self._resolve(gate.output, widen=widen))
        return any(changed)

    def _read(self, planes: Planes, part: str, place: Place) -> Planes:
        return apply(read_floating(planes, self.open_reads[part]), self.changes.reads.get(place))

    def _drivers(self, net: str) -> list[Planes]:
        """What each driver of a net gives, outside world included."""
        found = [apply(self.driven[place], self.changes.drives.get(place)) for place in self.sources[net]]
        return [*found, self.given[net]] if net in self.given else found

    def _resolve(self, net: str, *, widen: bool) -> bool:
        """Work a net out from its drivers, bridges, pull and short, in this order; whether it changed."""
        self.raw[net] = value = join(self._drivers(net) or [filled("Z", self.shape)])
        for hypothesis, other, winner in self.changes.bridges.get(net, ()):
            own, its = self.raw[net][:, hypothesis], self.raw[other][:, hypothesis]
            value = value.copy()
            value[:, hypothesis] = bridged(own, its, winner)
        if net in self.netlist.pulls:
            value = read_floating(value, self.netlist.pulls[net])
        value = apply(value, self.changes.nets.get(net))
        if widen:
            value = value | self.values[net]
        changed = not np.array_equal(value, self.values[net])
        self.values[net] = value
        return changed

    def _fighting(self) -> NDArray[np.bool_]:
        """Where some bus has one driver surely high and another surely low, shape (hypotheses, vectors)."""
        found = np.zeros(self.shape, np.uint64)
        for net, places in self.sources.items():
            if len(places) + (net in self.given) > 1:
                found |= contention(self._drivers(net))
        return np.asarray(decode(np.stack([found, ~found]), self.n_vectors) == 1)


def _sources(netlist: LogicNetlist) -> dict[str, list[Place]]:
    """Net to the places that drive it."""
    found: dict[str, list[Place]] = {net: [] for net in netlist.nets}
    for index, gate in enumerate(netlist.gates):
        found[gate.output].append(("gate", index, "output"))
    for index, register in enumerate(netlist.registers):
        for role, net in register.drives().items():
            found[net].append(("register", index, role))
    return found


def _check(netlist: LogicNetlist, codes: NDArray[np.int64]) -> None:
    doing = f"Cannot run the logic netlist {netlist.name}"
    if codes.ndim != 3 or codes.shape[2] != len(netlist.inputs) or not codes.shape[0] or not codes.shape[1]:
        allowed = f"(steps, vectors, {len(netlist.inputs)}), at least one step and one vector"
        raise BadInput(doing, f"a stimulus of shape {codes.shape}", allowed, "Give one code for each input.")
    if codes.min(initial=0) < 0 or codes.max(initial=0) >= len(CODES):
        found = f"the code {codes.min() if codes.min() < 0 else codes.max()} in the stimulus"
        raise BadInput(doing, found, "0, 1, 2 (nobody drives) and 3 (unknown)", "Correct the code.")
