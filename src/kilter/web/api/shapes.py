"""What a value of a request or an answer has to be: each shape checks a value and writes its own JSON Schema."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Protocol

CONTROL = r"\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f"
"""Signs that no keyboard writes, as `kilter.store.verb.FORBIDDEN`; tabulator and line breaks are allowed."""
ANYTHING = rf"[^{CONTROL}]*"
NOT_BLANK = rf"[^{CONTROL}]*[^\s\u0085\ufeff{CONTROL}][^{CONTROL}]*"
ONE_LINE = rf"[^\n\r{CONTROL}]*[^\s\u0085\ufeff{CONTROL}][^\n\r{CONTROL}]*"
MOST_WHOLE = 2**63 - 1
"""Largest whole number that both databases hold."""
SHOWN = 60


class Misfit(Exception):
    """A value that does not fit its shape: where it stands, what was found, what is allowed."""

    def __init__(self, where: str, found: str, allowed: str) -> None:
        super().__init__(where, found, allowed)
        self.where, self.found, self.allowed = where, found, allowed


class Shape(Protocol):
    """What both sides of the table need of a shape."""

    def schema(self) -> dict[str, Any]:
        """JSON Schema, draft 2020-12."""

    def check(self, value: Any, where: str) -> Any:
        """The value as handlers take it; raises Misfit."""

    def read(self, text: str, where: str) -> Any:
        """The same from the text of an address; raises Misfit."""


def shown(value: Any) -> str:
    """A value as a message may repeat it: short, and without signs that do something to a terminal."""
    text = ascii(value)
    return text if len(text) <= SHOWN else f"{text[:SHOWN]}..."


@dataclass(frozen=True)
class _Scalar:
    def read(self, text: str, where: str) -> Any:
        return self.check(text, where)

    def check(self, value: Any, where: str) -> Any:
        raise NotImplementedError


@dataclass(frozen=True)
class Text(_Scalar):
    """
    A text.

    Args:
        most: Characters.
        pattern: All of it has to match.
        words: The pattern, for people.
        secret: It is never repeated in a message.
    """

    most: int
    pattern: str = ANYTHING
    words: str = ""
    secret: bool = False

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "maxLength": self.most, "pattern": f"^(?:{self.pattern})$"}

    def check(self, value: Any, where: str) -> str:
        allowed = f"a text of at most {self.most} characters{self.words and ', '}{self.words}"
        if not isinstance(value, str):
            raise Misfit(where, "no text" if self.secret else shown(value), allowed)
        if len(value) > self.most:
            raise Misfit(where, f"{len(value)} characters", allowed)
        if any("\ud800" <= sign <= "\udfff" for sign in value):
            raise Misfit(where, "half of a pair of code units", "Unicode characters")
        if not re.fullmatch(self.pattern, value):
            raise Misfit(where, "a text of another form" if self.secret else shown(value), allowed)
        return value


@dataclass(frozen=True)
class Told(_Scalar):
    """A text of an answer, with its `format` where it has one; what went in was held to more."""

    form: str = ""

    def schema(self) -> dict[str, Any]:
        return {"type": "string", **({"format": self.form} if self.form else {})}

    def check(self, value: Any, where: str) -> str:
        if not isinstance(value, str):
            raise Misfit(where, shown(value), "a text")
        return value


def filled(most: int) -> Text:
    """A text with something in it."""
    return Text(most, NOT_BLANK, "not blank")


def line(most: int) -> Text:
    """A text of one line with something in it."""
    return Text(most, ONE_LINE, "one line, not blank")


@dataclass(frozen=True)
class Words(_Scalar):
    """One word of a fixed list."""

    choices: tuple[str, ...]

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "enum": list(self.choices)}

    def check(self, value: Any, where: str) -> str:
        if not isinstance(value, str) or value not in self.choices:
            raise Misfit(where, shown(value), ", ".join(one or "an empty text" for one in self.choices))
        return value


@dataclass(frozen=True)
class Whole:
    """A whole number; 3.0 is one, as in JSON Schema, and true is none."""

    least: int = 0
    most: int = MOST_WHOLE

    def schema(self) -> dict[str, Any]:
        return {"type": "integer", "minimum": self.least, "maximum": self.most}

    def check(self, value: Any, where: str) -> int:
        whole = isinstance(value, int) or (isinstance(value, float) and value.is_integer())
        if not whole or isinstance(value, bool) or not self.least <= value <= self.most:
            raise Misfit(where, shown(value), f"a whole number from {self.least} to {self.most}")
        return int(value)

    def read(self, text: str, where: str) -> int:
        if not re.fullmatch(r"-?[0-9]{1,19}", text):
            raise Misfit(where, shown(text), f"a whole number from {self.least} to {self.most}")
        return self.check(int(text), where)


@dataclass(frozen=True)
class Number(_Scalar):
    """A number; where a bound is left out there is none."""

    least: float | None = None
    most: float | None = None

    def schema(self) -> dict[str, Any]:
        bounds = {"minimum": self.least, "maximum": self.most}
        return {"type": "number", **{name: bound for name, bound in bounds.items() if bound is not None}}

    def check(self, value: Any, where: str) -> float:
        number = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not number or not self._within(value):
            raise Misfit(where, shown(value), f"a number from {self.least} to {self.most}")
        return float(value)

    def _within(self, value: float) -> bool:
        return (self.least is None or value >= self.least) and (self.most is None or value <= self.most)


@dataclass(frozen=True)
class Truth:
    """True or false."""

    def schema(self) -> dict[str, Any]:
        return {"type": "boolean"}

    def check(self, value: Any, where: str) -> bool:
        if not isinstance(value, bool):
            raise Misfit(where, shown(value), "true or false")
        return value

    def read(self, text: str, where: str) -> bool:
        if text not in ("true", "false"):
            raise Misfit(where, shown(text), "true or false")
        return text == "true"


@dataclass(frozen=True)
class Maybe(_Scalar):
    """A shape, or null."""

    of: Shape

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [self.of.schema(), {"type": "null"}]}

    def check(self, value: Any, where: str) -> Any:
        return None if value is None else self.of.check(value, where)


@dataclass(frozen=True)
class Many(_Scalar):
    """A list, no longer than `most` where that is given."""

    of: Shape
    most: int | None = None
    different: bool = False

    def schema(self) -> dict[str, Any]:
        most = {"maxItems": self.most} if self.most is not None else {}
        different = {"uniqueItems": True} if self.different else {}
        return {"type": "array", "items": self.of.schema(), **most, **different}

    def check(self, value: Any, where: str) -> list[Any]:
        if not isinstance(value, list):
            raise Misfit(where, shown(value), "a list")
        if self.most is not None and len(value) > self.most:
            raise Misfit(where, f"{len(value)} entries", f"at most {self.most}")
        taken = [self.of.check(one, f"{where}[{place}]") for place, one in enumerate(value)]
        if self.different and len(set(taken)) < len(taken):
            raise Misfit(where, "an entry twice", "entries that differ")
        return taken


@dataclass(frozen=True)
class Anything(_Scalar):
    """Plain data of any kind; in answers alone."""

    def schema(self) -> dict[str, Any]:
        return {}

    def check(self, value: Any, where: str) -> Any:  # noqa: ARG002
        return value
