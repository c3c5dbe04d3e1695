"""A design: what is fitted, what it does, how far it can be taken back, and what to mind."""

from __future__ import annotations

from dataclasses import dataclass

from kilter.circuit.board import Element

WITHIN, BEYOND, OPEN = "within", "beyond", "not known"


@dataclass(frozen=True)
class Fitted:
    """One part of a design: reference, value in words, what it must bear, and what it is for."""

    ref: str
    value: str
    bears: str
    use: str


@dataclass(frozen=True)
class Figure:
    """
    One figure of a design.

    Args:
        key: What it is, in words.
        value: Lowest, nominal and highest over the tolerance of its parts; all alike for a plain figure.
        unit: Of all numbers.
        least: Lowest that is asked, None where nothing is.
        most: Highest that is asked.
        source: Formula or authority.
    """

    key: str
    value: tuple[float, float, float]
    unit: str
    least: float | None = None
    most: float | None = None
    source: str = ""

    @property
    def standing(self) -> str:
        """Whether the whole spread keeps the limits; '' where there are none, 'not known' where it is no number."""
        if self.least is None and self.most is None:
            return ""
        if any(one != one for one in self.value):
            return OPEN
        low = self.least is None or self.value[0] >= self.least
        high = self.most is None or self.value[2] <= self.most
        return WITHIN if low and high else BEYOND


@dataclass(frozen=True)
class Route:
    """
    One way to do it.

    Args:
        title: In a few words.
        grade: Intervention grade of fitting it, 0 (nothing touched) to 6 (cannot be taken back).
        words: How it is fitted and taken out again.
        approval: Whether somebody other than the restorer has to agree first.
    """

    title: str
    grade: int
    words: str
    approval: bool = False


@dataclass(frozen=True)
class Design:
    """
    The whole answer.

    Args:
        title: What it is.
        routes: Ways to fit it, the least invasive first.
        parts: What is fitted.
        figures: What it does.
        cautions: Sentences.
        elements: As a circuit, for the predictor and as a netlist; empty where there is none.
        response: (frequency [Hz], lowest, nominal, highest gain [dB]) over tolerance, for a picture.
    """

    title: str
    routes: tuple[Route, ...]
    parts: tuple[Fitted, ...]
    figures: tuple[Figure, ...]
    cautions: tuple[str, ...]
    elements: tuple[Element, ...] = ()
    response: tuple[tuple[float, float, float, float], ...] = ()

    @property
    def standing(self) -> str:
        """The worst of its figures; 'not known' weighs less than 'beyond' and is not hidden by 'within'."""
        found = {one.standing for one in self.figures}
        return BEYOND if BEYOND in found else OPEN if OPEN in found else WITHIN


def plain(value: float) -> tuple[float, float, float]:
    """A figure without spread."""
    return value, value, value
