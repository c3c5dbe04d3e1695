"""Three-character codes of ceramic dielectrics: class 1 by temperature coefficient, class 2 by change over a range."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from kilter.measure.tables import table
from kilter.parts.markings.interpretation import Interpretation


def dielectric(text: str) -> Iterator[Interpretation]:
    """
    What such a code says; the two classes share no code.

    >>> [next(dielectric(text)).words for text in ("X7R", "C0G", "U2J")]  # doctest: +NORMALIZE_WHITESPACE
    ['class 2 ceramic, -55 °C to 125 °C, -15 %/+15 % over that range',
     'class 1 ceramic, 0 ±30 ppm/K', 'class 1 ceramic, -750 ±120 ppm/K']
    """
    data = table("markings/dielectrics")
    capitals = text.upper()
    if re.fullmatch("[A-Z][0-9][A-Z]", capitals):
        yield from _class_1(capitals, data["class_1"])
        yield from _class_2(capitals, data["class_2"], data["ageing"])
    zero = capitals in data["older"]["zero"]
    slope = re.fullmatch(r"([NP])(\d{3,4})", text)
    if zero or slope:
        ppm = 0 if zero or slope is None else int(slope[2]) * (-1 if slope[1] == "N" else 1)
        fields = {"dielectric": capitals, "class": 1, "ppm": ppm}
        words = f"class 1 ceramic, {ppm:+d} ppm/K" if ppm else "class 1 ceramic, 0 ppm/K"
        yield Interpretation("dielectric", "ceramic", words, fields, 1.0, (), data["older"]["source"])


def _class_1(text: str, data: Mapping[str, Any]) -> Iterator[Interpretation]:
    figure, multiplier, spread = (data[key].get(mark) for key, mark in
                                  zip(("figures", "multipliers", "spreads"), text, strict=True))  # fmt: skip
    if None not in (figure, multiplier, spread):
        ppm = round(figure * multiplier, 6) or 0.0
        fields = {"dielectric": text, "class": 1, "ppm": ppm, "ppm_spread": float(spread)}
        words = f"class 1 ceramic, {ppm:g} ±{spread} ppm/K"
        yield Interpretation("dielectric", "ceramic", words, fields, 1.0, (), data["source"])


def _class_2(text: str, data: Mapping[str, Any], ageing: Mapping[str, Any]) -> Iterator[Interpretation]:
    low, high, change = (data[key].get(mark) for key, mark in
                         zip(("lowest", "highest", "changes"), text, strict=True))  # fmt: skip
    if None not in (low, high, change):
        fields = {"dielectric": text, "class": 2, "celsius": [low, high], "change": change}
        because: tuple[str, ...] = ()
        if text[2] in ageing and text[2] not in ("source", "kind"):
            least, most = ageing[text[2]]
            fields["ageing"] = [least, most]
            because = (f"loses {least * 100:.0f} to {most * 100:.0f} % with every tenfold of its age in hours",)
        within = f"{change[0] * 100:+.3g} %/{change[1] * 100:+.3g} %"
        words = f"class 2 ceramic, {low} °C to {high} °C, {within} over that range"
        yield Interpretation("dielectric", "ceramic", words, fields, 1.0, because, data["source"])
