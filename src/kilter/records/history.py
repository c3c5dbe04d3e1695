"""What came with an object: old labels and diagnoses, signs seen. Evidence with a reliability, never truth."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Label:
    """
    Somebody once said what is wrong.

    Args:
        part: The part it names.
        mode: The failure mode it names, '' where it names none.
        reliability: From 0, which tells nothing, to 1, which still is no certainty.
        text: The words themselves.
    """

    part: str
    mode: str
    reliability: float
    text: str = ""


@dataclass(frozen=True, slots=True)
class Seen:
    """A sign that an eye saw on a part, such as 'bulged'."""

    part: str
    sign: str


@dataclass(frozen=True, slots=True)
class History:
    """Everything that came with the object."""

    labels: tuple[Label, ...] = ()
    seen: tuple[Seen, ...] = ()
