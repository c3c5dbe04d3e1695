"""Tolerance letters: symmetrical, unequal, and in picofarad on small capacitors."""

from __future__ import annotations

from dataclasses import dataclass

from kilter.measure.measured import engineering
from kilter.parts.markings.interpretation import code


@dataclass(frozen=True)
class Tolerance:
    """
    What a letter says.

    Args:
        below: Share, such as -0.2.
        above: Share, such as 0.8.
        farad: ± farad where the letter is in picofarad; the shares then follow from the value.
    """

    below: float
    above: float
    farad: float | None = None

    @property
    def words(self) -> str:
        """For people."""
        if self.farad is not None:
            return f"±{self.farad * 1e12:g} pF"
        if -self.below == self.above:
            return f"±{self.above * 100:.4g} %"
        return f"{self.below * 100:+.4g} %/{self.above * 100:+.4g} %"


def tolerance(letter: str, capacitance: float | None = None) -> Tolerance | None:
    """
    The tolerance of a letter; None where it stands for none.

    Args:
        letter: In capitals.
        capacitance: Of a capacitor, since below 10 pF some letters are picofarad. [F]

    >>> tolerance("J").words, tolerance("Z").words, tolerance("D", 4.7e-12).words, tolerance("D", 100e-12).words
    ('±5 %', '-20 %/+80 %', '±0.5 pF', '±0.5 %')
    """
    if capacitance and capacitance < code("picofarad_limit")["value"] and letter in _rows("tolerance_picofarad"):
        farad = float(code("tolerance_picofarad")[letter])
        return Tolerance(-farad / capacitance, farad / capacitance, farad)
    if letter in _rows("tolerance"):
        share = float(code("tolerance")[letter])
        return Tolerance(-share, share)
    if letter in _rows("tolerance_unequal"):
        below, above = code("tolerance_unequal")[letter]
        return Tolerance(below, above)
    return None


def _rows(key: str) -> set[str]:
    return set(code(key)) - {"source", "kind"}


def value_words(value: float, unit: str, within: Tolerance | None) -> str:
    """
    A value with its tolerance, in as many digits as it needs.

    >>> value_words(4700.0, "ohm", tolerance("J")), value_words(97.6, "ohm", None)
    ('4.7 kΩ ±5 %', '97.6 Ω')
    """
    if value == 0:
        return f"0 {engineering(0.0, unit).split()[-1]}"
    for digits in (2, 3, 4, 5):
        words = engineering(value, unit, digits)
        if abs(float(f"{value:.{digits - 1}e}") / value - 1) < 1e-9:
            break
    number, _, suffix = words.partition(" ")
    number = number.rstrip("0").rstrip(".") if "." in number else number
    return " ".join(filter(None, (number, suffix, within.words if within else "")))
