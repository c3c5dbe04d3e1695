"""What is known of a part that is wanted or offered: its kind and its fields, known, of no matter, or not said."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.measured import engineering
from kilter.measure.tables import table

ANY = "any"
"""Written for a field of the wanted part that does not matter where it is used."""


@dataclass(frozen=True)
class PartData:
    """
    A part as far as it was described.

    Args:
        kind: Such as 'electrolytic'; a key of data/substitutes/special.toml, [kinds].
        fields: Known ones in SI units (millimetres where the name says so); ANY for those of no matter.
    """

    kind: str
    fields: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """
        Refuses 'any' where it would hide a hazard.

        Raises:
            BadInput: An essential field is said to be of no matter.
        """
        for name, value in self.fields.items():
            if value == ANY and field_types().get(name, {}).get("essential"):
                raise BadInput(f"Cannot describe a part of kind '{self.kind}'", f"{name} = \"{ANY}\"",
                               f"a value for '{name}', or nothing where it is not known",
                               "Leave it out if it is not known.")  # fmt: skip

    @property
    def rules(self) -> str:
        """Key of the set of rules for its kind."""
        return str(kinds()[self.kind])

    def known(self, name: str) -> bool:
        """Whether the field was said, be it that it is of no matter."""
        return name in self.fields

    def of_no_matter(self, name: str) -> bool:
        """Whether the field was said to be of no matter."""
        return bool(self.fields.get(name) == ANY)


def kinds() -> Mapping[str, str]:
    """Kinds that there are rules for, each with the name of its set."""
    rows = special("kinds")
    return {key: value for key, value in rows.items() if key not in ("source", "kind")}


def kind_named(word: str, doing: str) -> str:
    """
    A kind that there are rules for.

    Raises:
        BadInput: There are none for it.
    """
    plain = word.strip().casefold()
    if plain in kinds():
        return plain
    raise BadInput(doing, f"the kind '{word.strip()[:40]}'", ", ".join(kinds()),
                   "Use one of these; 'suppression' is a capacitor at the mains.")  # fmt: skip


def field_types() -> Mapping[str, Mapping[str, Any]]:
    """Every field that can be said, with its type, unit and choices."""
    return table("substitutes/fields")


def special(section: str) -> Mapping[str, Any]:
    """A table of data/substitutes/special.toml."""
    found: Mapping[str, Any] = table("substitutes/special")[section]
    return found


def shown(name: str, value: Any) -> str:
    """
    A field's value for people.

    >>> shown("volts", 16.0), shown("tolerance", 0.05), shown("height_mm", 12.5), shown("rails", ["+5 V", "-5 V"])
    ('16 V', '5 %', '12.5 mm', '+5 V, -5 V')
    """
    if isinstance(value, (list, tuple)):
        return ", ".join(map(str, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not isinstance(value, (int, float)):
        return str(value)
    if name == "tolerance":
        return f"{value * 100:g} %"
    unit = field_types().get(name, {}).get("unit", "")
    if unit:
        words = engineering(float(value), unit, 4)
        number, _, suffix = words.partition(" ")
        return f"{number.rstrip('0').rstrip('.') if '.' in number else number} {suffix}"
    return f"{value:g} mm" if name.endswith("_mm") else f"{value:g}"
