"""Words that stand beside a capacitor's value: voltage, tolerance, dielectric, class, temperature."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from kilter.parts.markings.dielectrics import dielectric
from kilter.parts.markings.interpretation import code, weight
from kilter.parts.markings.tolerances import Tolerance, tolerance

VOLTS = re.compile(r"(\d{1,4}(?:[.,]\d)?) ?(K?)(?:V(?:DC|\.?D\.?C\.?|W|AC|~|-|⎓)?|WV(?:DC)?|(~|-))", re.IGNORECASE)
PLAIN_VOLTS = re.compile(r"\d{1,4}(?:[.,]\d)?")
SAFETY = re.compile(r"[XY][1-4]", re.IGNORECASE)
CELSIUS = re.compile(r"\+?(\d{2,3}) ?(?:°C?|C)", re.IGNORECASE)
PERCENT = re.compile(r"(?:±|\+/?-)? ?(\d{1,2}) ?%")
TIGHT = 0.01
BIPOLAR = ("BP", "NP", "BI-POLAR", "BIPOLAR", "N.P.", "B.P.")


def together(text: str) -> str:
    """
    The text with every unit close to its number.

    >>> together("1000µF 40 V 85 °C")
    '1000µF 40V 85°C'
    """
    return re.sub(r"(?<=\d) (?=(?:V|VDC|VAC|WV|WVDC|%|°C)(?: |$))", "", text)


@dataclass
class Beside:
    """What the words say, and which of them nobody could read."""

    volts: float | None = None
    alternating: bool = False
    within: Tolerance | None = None
    fields: dict[str, Any] = field(default_factory=dict)
    unread: list[str] = field(default_factory=list)
    weight: float = 1.0
    reasons: list[str] = field(default_factory=list)

    def words(self) -> str:
        """For people, to follow the value."""
        rest = []
        if self.volts is not None:
            rest.append(f"{self.volts:g} V{' AC' if self.alternating else ''}")
        if "dielectric" in self.fields:
            rest.append(str(self.fields["dielectric"]))
        if "safety_class" in self.fields:
            rest.append(f"class {self.fields['safety_class']}")
        if self.fields.get("bipolar"):
            rest.append("bipolar")
        return "".join(f", {one}" for one in rest)


def beside(words: Sequence[str], capacitance: float, *, big: bool) -> Beside:
    """
    What stands beside the value.

    Args:
        words: In order; each is one thing.
        capacitance: The value that they stand beside. [F]
        big: On an electrolytic, where one letter may be a voltage and a number is one.
    """
    found = Beside()
    for word in filter(None, words):
        if not _one(word, capacitance, found, big=big):
            found.unread.append(word)
            found.weight *= weight("unread_word")
            found.reasons.append(f"'{word}' not read")
    if found.within and found.within.farad is None and found.within.above < TIGHT:
        found.weight *= weight("tight_capacitor")
        found.reasons.append(f"{found.within.words} is rare on a capacitor")
    usual = code("volts_usual")["electrolytic" if big else "other"]
    if found.volts is not None and not found.alternating and found.volts not in usual:
        found.weight *= weight("unusual_volts")
        found.reasons.append(f"{found.volts:g} V is an unusual rating")
    if big and found.volts is None:
        found.weight *= weight("no_volts")
    return found


def _one(word: str, capacitance: float, found: Beside, *, big: bool) -> bool:
    """Takes one word in; False where it says nothing that is known or says again what was said."""
    capitals = word.upper()
    volts = _volts(word, big=big)
    letter = tolerance(capitals, capacitance) if re.fullmatch("[A-Z]", capitals) else None
    percent = PERCENT.fullmatch(word)
    if volts is not None and found.volts is None:
        found.volts, found.alternating = volts
    elif letter is not None and found.within is None:
        found.within = letter
    elif percent:
        found.within = Tolerance(-int(percent[1]) / 100, int(percent[1]) / 100)
    elif SAFETY.fullmatch(word):
        found.fields["safety_class"] = capitals
    elif capitals in BIPOLAR:
        found.fields["bipolar"] = True
    elif CELSIUS.fullmatch(word):
        found.fields["celsius_most"] = float(CELSIUS.fullmatch(word)[1])  # type: ignore[index]
    elif capitals in code("film_letters") and capitals not in ("SOURCE", "KIND"):
        found.fields["dielectric"] = code("film_letters")[capitals]
    elif ceramic := next(dielectric(word), None):
        found.fields |= {key: ceramic.fields[key] for key in ("dielectric", "class") if key in ceramic.fields}
    else:
        return capitals in ("+", "-", "–")
    return True


def _volts(word: str, *, big: bool) -> tuple[float, bool] | None:
    said = VOLTS.fullmatch(word)
    if said:
        value = float(said[1].replace(",", ".")) * (1000.0 if said[2] else 1.0)
        return value, word.upper().endswith(("AC", "~"))
    if PLAIN_VOLTS.fullmatch(word) and float(word.replace(",", ".")) > 0:
        return float(word.replace(",", ".")), False
    letters = code("volts_code") if len(word) == 2 else code("volts_letter") if big and len(word) == 1 else {}
    coded = letters.get(word if word == "e" else word.upper())
    return (coded, False) if isinstance(coded, float) else None
