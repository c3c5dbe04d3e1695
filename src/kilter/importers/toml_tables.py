"""
TOML tables read with care: every key is asked for by name and by type, and one that nobody asked for is refused.

The word 'place' means the path to a table or key, such as 'lamp.toml [parts.C1] tolerance'.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from kilter.importers.known_names import nearest
from kilter.importers.text_files import read_text
from kilter.importers.written_values import written_value
from kilter.measure.errors import BadInput


def read_toml(path: Path, what: str) -> Table:
    """
    The top table of a TOML file.

    Raises:
        BadInput: The file cannot be read or is no TOML; the message has the line and column.
    """
    text = read_text(path, what)
    try:
        return Table(tomllib.loads(text), path.name, f"Cannot read {what} {path.name}")
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        reason = "tables nested too deep" if isinstance(error, RecursionError) else str(error)
        raise BadInput(
            f"Cannot read {what} {path.name}", f"text that is no TOML in {path.name}: {reason}",
            "TOML: [tables], key = value, texts in quotes, one key a line", "Correct the place that is named.",
        ) from None  # fmt: skip


@dataclass
class Table:
    """One table with its place; remembers which keys were asked for."""

    values: Mapping[str, Any]
    place: str
    doing: str
    asked: set[str] = field(default_factory=set)

    def __contains__(self, key: str) -> bool:
        return key in self.values

    def take(self, key: str) -> Any:
        """The raw value of a key, None where it is absent; marks the key as asked for."""
        self.asked.add(key)
        return self.values.get(key)

    def text(self, key: str, default: str = "") -> str:
        """A text."""
        value = self.take(key)
        if value is None:
            return default
        if not isinstance(value, str):
            raise self.bad(key, value, "a text in quotes", f'Write {key} = "...".')
        return value

    def needed_text(self, key: str) -> str:
        """A text that must be there."""
        if not self.text(key).strip():
            raise self.bad(key, None, f"a text for '{key}'", f'Add {key} = "..." to {self.place}.')
        return self.text(key).strip()

    def flag(self, key: str, *, default: bool) -> bool:
        """A truth value."""
        value = self.take(key)
        if value is None:
            return default
        if not isinstance(value, bool):
            raise self.bad(key, value, "true or false, without quotes", f"Write {key} = true or {key} = false.")
        return value

    def number(self, key: str, unit: str = "", default: float | None = None) -> float | None:
        """
        A number in SI units, from bench notation in quotes or a plain TOML number.

        Args:
            key: Of the number.
            unit: Unit it must have; '' takes any.
            default: Where the key is absent.
        """
        value = self.take(key)
        return default if value is None else self.quantity(key, value, unit)

    def needed_number(self, key: str, unit: str = "") -> float:
        """A number that must be there."""
        value = self.number(key, unit)
        if value is None:
            raise self.bad(key, None, f"a number for '{key}'", f"Add {key} to {self.place}.")
        return value

    def share(self, key: str, default: float | None = None) -> float | None:
        """A share from 0 to 1, such as '20 %' or 0.2."""
        value = self.number(key, "", default)
        if value is not None and not 0 <= value <= 1:
            raise self.bad(key, self.values[key], "a share from 0 to 1, or from 0 % to 100 %", "Correct it.")
        return value

    def quantity(self, key: str, value: object, unit: str) -> float:
        """The SI number of one raw value."""
        text = repr(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else value
        if not isinstance(text, str):
            raise self.bad(key, value, "a number, or a value in quotes such as \"4k7\"", "Write a number.")
        try:
            number = written_value(text, unit).value
        except BadInput as error:
            raise BadInput(self.doing, f"{error.found} at {self.at(key)}", error.allowed, error.do_next) from None
        if number != number or number in (float("inf"), float("-inf")):
            raise self.bad(key, value, "a finite number", "Write a number.")
        return number

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts."""
        value = self.take(key)
        if value is None:
            return ()
        if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
            raise self.bad(key, value, 'a list of texts such as ["C1", "U5"]', "Write a list.")
        return tuple(value)

    def pairs(self, key: str) -> dict[str, str]:
        """A table of texts."""
        table = self.table(key)
        return {name: table.text(name) for name in table.values}

    def table(self, key: str) -> Table:
        """A table inside this one, empty where it is absent."""
        value = self.take(key)
        if value is None:
            value = {}
        if not isinstance(value, dict):
            raise self.bad(key, value, f"a table, written [{key}] or {key} = {{ ... }}", "Write a table.")
        place = self.place if "[" not in self.place else self.place.rstrip("]") + "." + key + "]"
        return Table(value, place if "[" in self.place else f"{self.place} [{key}]", self.doing)

    def tables(self, key: str) -> Iterator[tuple[str, Table]]:
        """Name and table of each entry of a table of tables."""
        outer = self.table(key)
        for name in outer.values:
            if not name.strip():
                raise outer.bad(name, name, "a name with at least one letter", "Give it a name.")
            yield name, outer.table(name)

    def rows(self, key: str) -> list[Table]:
        """A list of tables."""
        value = self.take(key)
        if value is None:
            return []
        if not isinstance(value, list) or not all(isinstance(one, dict) for one in value):
            raise self.bad(key, value, f"a list of tables, {key} = [{{ ... }}]", "Write a list of tables.")
        return [Table(row, f"{self.at(key)} number {at}", self.doing) for at, row in enumerate(value, 1)]

    def done(self, known: Iterable[str] = ()) -> None:
        """
        Refuse every key that was not asked for, with the nearest one that may stand here.

        Args:
            known: Keys that may stand here besides those asked for.
        """
        allowed = sorted(self.asked | set(known))
        for key in self.values:
            if key not in allowed:
                near = nearest(key, allowed)
                raise BadInput(
                    self.doing, f"the key '{key}' at {self.place}", ", ".join(allowed),
                    f"Did you mean '{near[0]}'?" if near else "Remove the key.",
                )  # fmt: skip

    def at(self, key: str) -> str:
        """The place of one key."""
        return f"{self.place} {key}"

    def bad(self, key: str, value: object, allowed: str, do_next: str) -> BadInput:
        """The error for one key."""
        shown = repr(value)
        found = "nothing" if value is None else shown if len(shown) <= 60 else shown[:57] + "..."
        return BadInput(self.doing, f"{found} at {self.at(key)}", allowed, do_next)
