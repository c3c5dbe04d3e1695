"""Objects of named fields, in requests and answers: nothing missing, nothing that is not described."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from kilter.web.api.shapes import Many, Maybe, Misfit, Shape, shown


@dataclass(frozen=True)
class Field:
    """A field of a record: its shape, what it means, and whether it may be left out."""

    shape: Shape
    words: str = ""
    optional: bool = False

    def schema(self) -> dict[str, Any]:
        """Schema with the meaning beside it."""
        return {**self.shape.schema(), **({"description": self.words} if self.words else {})}


def may(shape: Shape, words: str = "") -> Field:
    """A field that may be left out."""
    return Field(shape, words, optional=True)


@dataclass(frozen=True)
class Record:
    """
    An object of named fields; a field that is not named is refused.

    Args:
        name: Under which the document tells it.
        fields: By name; a bare shape is a field that has to be there.
    """

    name: str
    given: Mapping[str, Field | Shape] = field(default_factory=dict)

    @cached_property
    def fields(self) -> dict[str, Field]:
        """The fields by name."""
        return {key: one if isinstance(one, Field) else Field(one) for key, one in self.given.items()}

    def read(self, text: str, where: str) -> Any:
        """None stands in an address."""
        raise Misfit(where, shown(text), "no object here")

    def schema(self) -> dict[str, Any]:
        """A reference to the description's own part."""
        return {"$ref": f"#/components/schemas/{self.name}"}

    def whole(self) -> dict[str, Any]:
        """What the reference leads to."""
        return {
            "type": "object",
            "properties": {key: one.schema() for key, one in self.fields.items()},
            "required": [key for key, one in self.fields.items() if not one.optional],
            "additionalProperties": False,
        }

    def check(self, value: Any, where: str) -> dict[str, Any]:
        """The fields as handlers take them; raises Misfit."""
        if not isinstance(value, dict):
            raise Misfit(where, shown(value), f"an object with {', '.join(self.fields) or 'no fields'}")
        odd = next((key for key in value if key not in self.fields), None)
        if odd is not None:
            raise Misfit(where, f"a field {shown(odd)}", ", ".join(self.fields) or "no fields")
        missing = [key for key, one in self.fields.items() if not one.optional and key not in value]
        if missing:
            raise Misfit(where, f"no {', '.join(missing)}", ", ".join(self.fields))
        return {key: self.fields[key].shape.check(one, f"{where}.{key}" if where else key)
                for key, one in value.items()}  # fmt: skip


def records_in(shape: Any) -> dict[str, Record]:
    """Every record within a shape, by name."""
    if isinstance(shape, Record):
        within = (one.shape for one in shape.fields.values())
        return {shape.name: shape, **{name: each for one in within for name, each in records_in(one).items()}}
    return records_in(shape.of) if isinstance(shape, (Maybe, Many)) else {}
