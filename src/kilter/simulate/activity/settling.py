"""Settling: all signals of a board at once, loops by fixpoint."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np

from kilter.circuit.board import Block, Board, State
from kilter.parts.kinds import GIVES
from kilter.simulate.activity.acts import ACTS
from kilter.simulate.activity.block_kinds import block_kind, counts, effects, judgement, values_of
from kilter.simulate.activity.bus import together
from kilter.simulate.activity.pairs import NetPair
from kilter.simulate.activity.power import Standing, standing
from kilter.simulate.activity.signal import (
    FLOATING,
    HIGH,
    LEVELS,
    LOW,
    NAN,
    STILL,
    UNPOWERED,
    Floats,
    Mask,
    Signal,
    choose,
    differ,
    rests,
    unknown,
)
from kilter.simulate.activity.suffering import Suffering
from kilter.simulate.activity.wires import Driver, Wires
from kilter.simulate.activity.work import NEVER, Work

Outputs = dict[Driver, Signal]


@dataclass(frozen=True)
class Settling:
    """
    One board in one state, under all hypotheses.

    Args:
        board: The board.
        state: How it stands.
        wires: Of the board.
        suffers: What the hypotheses' faults do.
        volts: Rails and needs, as far as a circuit tells.
    """

    board: Board
    state: State
    wires: Wires
    suffers: Suffering
    volts: Mapping[NetPair, Floats]

    def signals(self) -> Mapping[str, Signal]:
        """
        Every driven signal.

        All lines begin unknown and are swept until nothing changes, which is ternary simulation: a loop that only
        keeps itself going, such as a latch, stays unknown unless something from outside decides it. A processor is
        started first, as if its memory answered, and then has to live with what its memory does say.
        """
        outputs: Outputs = {driver: unknown() for drivers in self.wires.drivers.values() for driver in drivers}
        for starting in (True, False) if self.wires.loops else (False,):
            self._settle(outputs, starting=starting)
        return {signal: self._line(signal, outputs) for signal in self.wires.drivers}

    def stands(self, block: Block, signals: Mapping[str, Signal]) -> Standing:
        """How a block stands, given the signals that feed the rails."""

        def feed(rail: str) -> Signal | None:
            signal = self.wires.rail_signals.get(rail)
            return None if signal is None else signals[signal]

        return standing(self.board, block, self.suffers, self.volts, feed)

    def _settle(self, outputs: Outputs, *, starting: bool) -> None:
        """
        Sweeps until nothing changes; without loops once is enough.

        Lanes that still change after a bound are made unknown for good; each further sweep makes at least one more so,
        or is the last.
        """
        bound = int(judgement("settling", "sweeps")) if self.wires.loops else 0
        given_up: dict[Driver, Mask] = {}
        moved = set(self.board.blocks)
        for sweep in range(bound + len(outputs) + 1):
            changed = self._sweep(outputs, given_up, moved, starting=starting)
            if not changed or not self.wires.loops:
                return
            moved = {block for block, _ in changed}
            if sweep >= bound:
                moved = set(self.board.blocks)
                given_up |= {driver: given_up.get(driver, NEVER) | lanes for driver, lanes in changed.items()}
        self._sweep(outputs, given_up, set(self.board.blocks), starting=starting)

    def _sweep(
        self, outputs: Outputs, given_up: Mapping[Driver, Mask], moved: Collection[str], *, starting: bool
    ) -> dict[Driver, Mask]:
        """Every block once, in order, that listens to one that moved; where its outputs changed."""
        changed: dict[Driver, Mask] = {}
        everything, moved = len(moved) == len(self.board.blocks), set(moved)
        for block in self.wires.order:
            if not everything and moved.isdisjoint(self.wires.listens[block.name]):
                continue
            for port, signal in self._block(block, outputs, starting=starting).items():
                driver = (block.name, port)
                new = signal.doubted(given_up[driver]) if driver in given_up else signal
                lanes = differ(outputs[driver], new, judgement("settling", "tolerance"))
                outputs[driver] = new
                if lanes.any():
                    changed[driver] = lanes
                    moved.add(block.name)
        return changed

    def _block(self, block: Block, outputs: Outputs, *, starting: bool) -> Mapping[str, Signal]:
        """What comes out of one block."""
        if not self.state.powered:
            return dict.fromkeys(block.outputs, rests(UNPOWERED, size=0.0))
        kind = block_kind(block)
        feeds = (self.wires.rail_signals[rail] for rail in block.rails if rail in self.wires.rail_signals)
        stands = self.stands(block, {signal: self._line(signal, outputs, block.name) for signal in feeds})
        heard = kind.starts_with if starting and kind.starts_with else tuple(block.inputs)
        work = Work(
            block=block,
            inputs={port: self._input(block, port, outputs) for port in block.inputs if port in heard},
            suffers={key: self.suffers.where(("block", block.name, key)) for key in effects()},
            held=self.suffers.held(block.name),
            met=stands.met,
            closed=not any(self.state.modes.get(ref) == "open" for ref in block.parts),
        )
        made = ACTS[kind.act](work)
        met = ~NEVER if kind.meets_needs_itself else stands.met
        return {port: self._out(work, port, made[port], met, stands) for port in block.outputs}

    def _input(self, block: Block, port: str, outputs: Outputs) -> Signal:
        line = self._line(block.inputs[port], outputs, block.name)
        return choose(self.suffers.where(("input", block.name, port)), rests(FLOATING), line)

    def _line(self, signal: str, outputs: Outputs, leave_out: str = "") -> Signal:
        """What a line does; a block does not hear its own voice where others drive the line too."""
        drivers = self.wires.drivers.get(signal, ())
        others = [driver for driver in drivers if driver[0] != leave_out] or list(drivers)
        line = together([outputs[driver] for driver in others]) if others else unknown()
        for rail in (rail for rail, feed in self.wires.rail_signals.items() if feed == signal):
            line = choose(self.suffers.where(("rail", rail, "short")), rests(LOW, size=0.0), line)
        return line

    def _out(self, work: Work, port: str, made: Signal, met: Mask, stands: Standing) -> Signal:
        """One output: what the block makes, as its faults, needs, rails and pins let it through."""
        out = choose(met, _marred(work, made), rests(STILL))
        out = choose(stands.powered, out, rests(UNPOWERED, size=0.0, value=NAN)).doubted(stands.doubt)
        return choose(self.suffers.where(("output", work.block.name, port)), rests(FLOATING), out)


def _marred(work: Work, out: Signal) -> Signal:
    """An output as the faults of the block's parts leave it."""
    for key, effect in effects().items():
        here = work.has(key)
        if not here.any():
            continue
        if key == GIVES:
            out = choose(here, rests(np.where(work.held == 0, LOW, HIGH), value=work.held), out)
        elif effect.level:
            level = block_kind(work.block).dead if key == "dead" else effect.level
            out = choose(here, _stuck(work.block, LEVELS.index(level)), out)
        else:
            out = out.but(size=np.where(here, out.size * effect.gain, out.size))
            out = out.doubted(np.where(here, effect.doubt, 0.0))
    return out


def _stuck(block: Block, level: int) -> Signal:
    """A level that holds, and the number that it stands for where the block is one of whole numbers."""
    size = 0.0 if level == UNPOWERED else NAN
    if level not in (LOW, HIGH) or not counts(block):
        return rests(level, size=size)
    return rests(level, value=values_of(block) - 1 if level == HIGH else 0)
