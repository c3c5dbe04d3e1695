"""Run a board under fault sets and note what every net showed."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kilter.measure.tables import table
from kilter.simulate.logic.defects import Defect
from kilter.simulate.logic.netlist import LogicNetlist
from kilter.simulate.logic.overrides import overrides
from kilter.simulate.logic.running.engine import kernel_for
from kilter.simulate.logic.running.stimulus import Stimulus
from kilter.simulate.logic.running.tables import LANES, tables
from kilter.simulate.logic.stand_ins import is_walk

POWER_UPS = LANES
"""Power-ups of each fault set: the lanes of one byte."""

AT_ONCE = 4096
"""Fault sets run at once; it bounds memory."""


@dataclass(frozen=True)
class Shown:
    """
    What nets showed while somebody looked, power-up by power-up, each of shape (fault sets, nets, power-ups).

    Args:
        nets: Names along the second axis.
        low: It was low at some time.
        high: It was high at some time.
        released: Nobody drove it at some time.
        unknown: Its level could not be told at some time.
        fighting: One driver pulled it up and another one down at some time.
        restless: How often something went on changing, so that it was made unknown.
    """

    nets: tuple[str, ...]
    low: NDArray[np.bool_]
    high: NDArray[np.bool_]
    released: NDArray[np.bool_]
    unknown: NDArray[np.bool_]
    fighting: NDArray[np.bool_]
    restless: int


def run(
    netlist: LogicNetlist,
    stimulus: Stimulus,
    fault_sets: Sequence[Iterable[Defect]] = ((),),
    *,
    nets: Sequence[str] | None = None,
    counting: Collection[str] = (),
    unpulled: Mapping[int, Collection[str]] | None = None,
    engine: str = "auto",
) -> Shown:
    """
    Run a board through several power-ups under each fault set.

    Args:
        netlist: The board; the contents of its registers at power-up are drawn by chance.
        stimulus: What reaches it from outside.
        fault_sets: Defects that are all present; () is the good board.
        nets: Nets to look at, the outputs unless said.
        counting: Chips whose registers count: in some power-ups they stand before a carry when somebody looks.
        unpulled: Number of a fault set to nets whose pull resistor is gone in it.
        engine: 'auto', 'plain' or 'compiled'.
    """
    looked = tuple(netlist.outputs if nets is None else nets)
    seen, restless = [], 0
    for start in range(0, len(fault_sets), AT_ONCE):
        gone: dict[str, list[int]] = {}
        for number, of_set in (unpulled or {}).items():
            if start <= number < start + AT_ONCE:
                for net in of_set:
                    gone.setdefault(net, []).append(number - start)
        piece, tired = _run(netlist, stimulus, fault_sets[start : start + AT_ONCE], looked, counting, gone, engine)
        seen.append(piece)
        restless += tired
    low, high, released, unknown, fighting = np.concatenate(seen, axis=1)
    return Shown(looked, low, high, released, unknown, fighting, restless)


def _run(
    netlist: LogicNetlist,
    stimulus: Stimulus,
    fault_sets: Sequence[Iterable[Defect]],
    nets: Sequence[str],
    counting: Collection[str],
    unpulled: dict[str, list[int]],
    engine: str,
) -> tuple[NDArray[np.bool_], int]:
    numbers = table("logic/running")
    made = tables(netlist, overrides(netlist, fault_sets), unpulled)
    n_words = -(-len(fault_sets) // (64 // LANES))
    row = {net: number for number, net in enumerate(netlist.nets)}
    watched = np.array([row[net] for net in nets], np.int32)
    looking = int(numbers["reset_steps"] + numbers["settle_steps"])
    settings = _settings(netlist, counting, n_words)
    work = kernel_for(engine, long=len(netlist.gates) >= int(numbers["worth_compiling"]))
    seen, restless = work.run_words(
        made, _started(netlist, n_words), stimulus.codes(netlist.inputs), *settings, watched, looking,
        int(numbers["most_passes"]),
    )  # fmt: skip
    octets = np.ascontiguousarray(seen, "<u8").view(np.uint8)[..., : len(fault_sets)]
    bits = np.unpackbits(octets[..., None], axis=-1, bitorder="little").astype(np.bool_)
    return np.moveaxis(bits, 2, 1), restless


def _settings(
    netlist: LogicNetlist, counting: Collection[str], n_words: int
) -> tuple[NDArray[np.int64], NDArray[np.bool_], NDArray[np.uint64]]:
    """
    When which registers are set to what: steps (2,), registers (2, R), words (2, R, words).

    After reset every register holds what a program may have left there. When somebody begins to look, walks stand
    anywhere, and counters at all ones in the first power-ups, at all noughts in some more, else anywhere.
    """
    numbers = table("logic/running")
    reset = int(numbers["reset_steps"])
    kept = np.array([one.data != one.output for one in netlist.registers], np.bool_)
    counts = np.array([one.part in counting for one in netlist.registers], np.bool_)
    walks = np.array([is_walk(one.output) for one in netlist.registers], np.bool_)
    ones, noughts = int(numbers["all_ones"]), int(numbers["all_noughts"])
    fixed, all_ones = (1 << (ones + noughts)) - 1, (1 << ones) - 1
    left, random = _chance(netlist, 1), _chance(netlist, 2)
    standing = np.where(walks, random, (random & ~np.uint8(fixed)) | np.uint8(all_ones)).astype(np.uint8)
    return (
        np.array([reset + 1, reset + int(numbers["settle_steps"]) - 1]),
        np.stack([kept, kept & (counts | walks)]),
        np.stack([_words(left, n_words), _words(standing, n_words)]),
    )


def _chance(netlist: LogicNetlist, number: int) -> NDArray[np.uint8]:
    """A byte of chance for each register."""
    random = np.random.default_rng([int(table("logic/running")["seed"]), number])
    return random.integers(0, 256, len(netlist.registers)).astype(np.uint8)


def _words(octets: NDArray[np.uint8], n_words: int) -> NDArray[np.uint64]:
    """The byte of each register in all places of a row."""
    repeated = octets.astype(np.uint64) * np.uint64(0x0101_0101_0101_0101)
    return np.repeat(repeated[:, None], n_words, axis=1)


def _started(netlist: LogicNetlist, n_words: int) -> NDArray[np.uint64]:
    """Planes of the registers at power-up: by chance, unless the register that keeps 'unknown' unknown."""
    chance = _words(_chance(netlist, 0), n_words)
    planes = np.stack([chance, ~chance])
    for number, one in enumerate(netlist.registers):
        if one.data == one.output:
            planes[:, number] = ~np.uint64(0)
    return planes
