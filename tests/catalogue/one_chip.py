"""One chip of the catalogue on a bench: every pin a net of its own name, driven and looked at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from kilter.parts.catalogue import CatalogueType, catalogue_types
from kilter.simulate.logic import Chip, LogicNetlist, trace
from kilter.simulate.logic.chip_logic import ChipLogic, unknown_source

Z, X = 2, 3
Bits = np.ndarray


def netlist_of(kind: CatalogueType) -> LogicNetlist:
    """The chip alone; its inputs and the pins that go both ways are driven from outside."""
    chip = ChipLogic("U", kind, {pin.number: pin.name for pin in kind.pins.values()})
    chip.build()
    driven = tuple(pin.name for pin in kind.pins.values() if pin.direction in ("in", "both"))
    seen = tuple(pin.name for pin in kind.pins.values() if pin.direction in ("out", "both"))
    chips = {"U": Chip("U", kind.technology)}
    return LogicNetlist(tuple(chip.gates), driven, seen, (*chip.registers, unknown_source()), chips)


def inputs_of(key: str) -> list[str]:
    """Names of the pins that are driven."""
    return list(netlist_of(catalogue_types()[key]).inputs)


def look(key: str, driven: Mapping[str, Bits]) -> dict[str, Bits]:
    """What every output shows, 0, 1, 2 (let go) or 3 (unknown), after one step, by pin name."""
    return play(key, [driven])[0]


def play(key: str, steps: Sequence[Mapping[str, Bits]]) -> list[dict[str, Bits]]:
    """The same for several steps, one after another."""
    netlist = netlist_of(catalogue_types()[key])
    stimulus = np.stack([np.stack([np.asarray(step[name]) for name in netlist.inputs], axis=-1) for step in steps])
    codes = trace(netlist, stimulus).codes[0]
    return [{name: codes[step, :, place] for place, name in enumerate(netlist.outputs)} for step in range(len(steps))]


def every(names: Sequence[str], most: int = 4096, seed: int = 1) -> dict[str, Bits]:
    """All combinations of these inputs, or so many by chance where there are more."""
    if 2 ** len(names) <= most:
        rows = (np.arange(2 ** len(names))[:, None] >> np.arange(len(names))) & 1
    else:
        rows = np.random.default_rng(seed).integers(0, 2, (most, len(names)))
    return {name: rows[:, place] for place, name in enumerate(names)}


def number(driven: Mapping[str, Bits], names: Sequence[str]) -> Bits:
    """The number that some pins spell, the lowest bit first."""
    return sum(np.asarray(driven[name]).astype(int) << place for place, name in enumerate(names))  # type: ignore
