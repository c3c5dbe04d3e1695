"""Block kinds: ports, numbers and acts of every kind, read from data/block_kinds.toml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from kilter.circuit.board import Block
from kilter.measure.errors import BadInput
from kilter.measure.tables import table

LOW_HIGH = ("low", "high")
"""What a block of levels shows for 0 and for 1."""


@dataclass(frozen=True, slots=True)
class BlockKind:
    """
    What is true of all blocks of a kind.

    Args:
        key: Such as 'divider'.
        words: What a person would say.
        inputs: Usual names of its input ports; 'any' for free ones.
        outputs: Usual names of its output ports.
        act: Name of the function that says what comes out.
        numbers: Parameters with their defaults.
        must: Parameters that every block of this kind has to give.
        reads: Quantities that can be read at its outputs.
        dead: Level at which its outputs rest when it is dead.
        meets_needs_itself: The function itself says what happens when a need is not met.
        starts_with: Ports that it listens to when it is started; empty for all.
        source: Where the numbers come from.
    """

    key: str
    words: str
    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    act: str
    numbers: Mapping[str, float]
    must: tuple[str, ...]
    reads: tuple[str, ...]
    dead: str
    meets_needs_itself: bool
    starts_with: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Effect:
    """
    What a fault does to a block's outputs.

    Args:
        level: What they become; '' leaves them.
        doubt: Added doubt.
        gain: Factor on the size.
        only: Acts that know what to make of it; empty for all. On the others it counts as 'wrong'.
    """

    level: str
    doubt: float
    gain: float
    only: tuple[str, ...] = ()


@cache
def block_kinds() -> Mapping[str, BlockKind]:
    """Every kind in the data file, by key."""
    return {key: _kind(key, entry) for key, entry in table("block_kinds")["kinds"].items()}


def block_kind(block: Block) -> BlockKind:
    """
    The kind of a block.

    Raises:
        BadInput: No such kind, or a parameter that the kind needs is missing; the message lists what there is.
    """
    kinds = block_kinds()
    doing = f"Cannot work out the block {block.name}"
    if block.kind not in kinds:
        raise BadInput(doing, f"the block kind '{block.kind}'", ", ".join(kinds), "Use one of these kinds.")
    kind = kinds[block.kind]
    missing = [name for name in kind.must if name not in block.numbers]
    if missing:
        have = ", ".join(block.numbers) or "no numbers"
        raise BadInput(doing, have, f"a {block.kind} with {', '.join(missing)}", f"Add {missing[0]} to the block.")
    return kind


def number(block: Block, name: str) -> float:
    """A parameter of a block: its own, or the default of its kind."""
    return float(block.numbers[name]) if name in block.numbers else block_kind(block).numbers[name]


def values_of(block: Block) -> int:
    """
    How many whole numbers a block tells apart.

    Raises:
        BadInput: Fewer than two.
    """
    values = number(block, "values")
    if values >= 2 and values == int(values):
        return int(values)
    doing = f"Cannot work out the block {block.name}"
    raise BadInput(doing, f"values = {values:g}", "a whole number of 2 or more", "Correct 'values' of the block.")


def counts(block: Block) -> bool:
    """Whether it deals in whole numbers rather than in levels."""
    return "values" in {**block_kind(block).numbers, **block.numbers}


def refuse_number(block: Block, ref: str, given: int) -> None:
    """
    Refuses a number that a faulty member would give but that the block cannot.

    Raises:
        BadInput: With how many values the block tells apart: those of its kind, or two levels.
    """
    values = values_of(block) if counts(block) else len(LOW_HIGH)
    if given >= values:
        raise BadInput(
            f"Cannot work out the block {block.name}", f"its part {ref}, which may give {given}",
            f"whole numbers from 0 to {values - 1}", f'Write value = "{values}" in [parts.{ref}].',
        )  # fmt: skip


@cache
def effects() -> Mapping[str, Effect]:
    """What each kind of fault does to a block, in the order in which they cover one another."""
    return {
        key: Effect(row["level"], float(row["doubt"]), float(row.get("gain", 1.0)), tuple(row.get("only", ())))
        for key, row in table("block_kinds")["effects"].items()
    }


def judgement(topic: str, name: str) -> float:
    """One number of the tables [bus], [rail], [size], [heating], [settling]."""
    return float(table("block_kinds")[topic][name])


def _kind(key: str, entry: Mapping[str, Any]) -> BlockKind:
    return BlockKind(
        key=key,
        words=entry["words"],
        inputs=tuple(entry["inputs"]),
        outputs=tuple(entry["outputs"]),
        act=entry["act"],
        numbers={name: float(value) for name, value in entry.get("numbers", {}).items()},
        must=tuple(entry.get("must", ())),
        reads=tuple(entry.get("reads", table("block_kinds")["usual"]["reads"])),
        dead=entry.get("dead", effects()["dead"].level),
        meets_needs_itself=entry.get("unmet") == "act",
        starts_with=tuple(entry.get("starts_with", ())),
        source=entry["source"],
    )
