"""
Random boards of gates, adders and multipliers, described once and written twice.

`board_text` writes the board file that Kilter reads. `network` writes the same board as a Bayes net for pyAgrum, from
the definitions of the gates in Boolean algebra and of the sums and products in Python's own arithmetic, so that the
two share nothing but the description.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import product
from math import prod
from random import Random

GATES: Mapping[str, Callable[[list[int]], int]] = {
    "and": lambda bits: int(all(bits)),
    "nand": lambda bits: int(not all(bits)),
    "or": lambda bits: int(any(bits)),
    "nor": lambda bits: int(not any(bits)),
    "xor": lambda bits: sum(bits) % 2,
    "not": lambda bits: 1 - bits[0],
    "buffer": lambda bits: bits[0],
}
SUMS: Mapping[str, Callable[[list[int]], int]] = {"adder": sum, "multiplier": prod}
LEVELS = ("low", "high", "pulsing", "floating", "between")
"""The words of a logic probe; a unit of this board can show the first two only, a wrong reading any of them."""


@dataclass(frozen=True)
class Unit:
    """A gate, adder or multiplier; the line that it drives has its name, its part is that name with 'P' before it."""

    name: str
    kind: str
    hears: tuple[str, ...]
    values: int

    @property
    def part(self) -> str:
        return f"P{self.name}"

    @property
    def quantity(self) -> str:
        return "level" if self.kind in GATES else "value"

    @property
    def words(self) -> tuple[str, ...]:
        return LEVELS if self.kind in GATES else tuple(map(str, range(self.values)))

    def out(self, heard: list[int]) -> int:
        """What it gives when healthy."""
        return GATES[self.kind](heard) if self.kind in GATES else SUMS[self.kind](heard) % self.values


@dataclass(frozen=True)
class Functional:
    """A board: lines with numbers given from outside, and units in an order in which each follows those it hears."""

    given: Mapping[str, int]
    units: tuple[Unit, ...]

    def lines(self, held: Mapping[str, int]) -> dict[str, int]:
        """What every line carries, given the values that faulty units hold, by the unit's name."""
        found = dict(self.given)
        for unit in self.units:
            found[unit.name] = held.get(unit.name, unit.out([found[line] for line in unit.hears]))
        return found


def random_board(random: Random, size: int, *, gates_only: bool) -> Functional:
    """Gates hear lines of 0 and 1 only; adders and multipliers hear any line, of a gate or of their like."""
    given = {f"b{n}": random.randint(0, 1) for n in range(3)}
    bits, lines = list(given), list(given)
    units = []
    for n in range(size):
        gate = gates_only or random.random() < 0.4
        kind = random.choice(list(GATES if gate else SUMS))
        count = 1 if kind in ("not", "buffer") else random.randint(2, 3)
        unit = Unit(
            f"u{n}", kind, tuple(random.sample(bits if gate else lines, count)), 2 if gate else random.randint(2, 4)
        )
        units.append(unit)
        lines.append(unit.name)
        bits += [unit.name] if gate else []
    return Functional(given, tuple(units))


def board_text(board: Functional) -> str:
    """The board file."""
    rows = ["kilter = 1", 'board = "functional"']
    for line, value in board.given.items():
        rows += [f"[blocks.{line}]", 'kind = "given"', f'outputs = {{ out = "{line}" }}', f"value = {value}"]
    for unit in board.units:
        ports = ["in"] if len(unit.hears) == 1 else [f"p{n}" for n in range(len(unit.hears))]
        inputs = ", ".join(f'{port} = "{line}"' for port, line in zip(ports, unit.hears, strict=True))
        rows += [f"[blocks.{unit.name}]", f'kind = "{unit.kind}"', f'parts = ["{unit.part}"]']
        rows += [f"inputs = {{ {inputs} }}", f'outputs = {{ out = "{unit.name}" }}']
        rows += [] if unit.kind in GATES else [f"values = {unit.values}"]
        rows += [f"[parts.{unit.part}]", 'kind = "function_unit"', f'value = "{unit.values}"']
    return "\n".join(rows)


def random_readings(random: Random, board: Functional, count: int, gross: float) -> dict[str, str]:
    """What some units show on a board with one or two faults; a grossly wrong reading is any word."""
    faulty = random.sample(board.units, random.randint(1, 2))
    lines = board.lines({unit.name: random.randrange(unit.values) for unit in faulty})
    read = random.sample(board.units, min(count, len(board.units)))
    return {
        unit.name: random.choice(unit.words) if random.random() < gross else unit.words[lines[unit.name]]
        for unit in read
    }


def fault_sets(board: Functional):
    """Every combination of units that hold a value and units that are healthy, as held values by name."""
    choices = [[None, *range(unit.values)] for unit in board.units]
    for chosen in product(*choices):
        yield {unit.name: value for unit, value in zip(board.units, chosen, strict=True) if value is not None}
