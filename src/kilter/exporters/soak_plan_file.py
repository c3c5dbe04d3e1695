"""A soak plan as a text file that a person may edit before the soak and that judges it afterwards."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable

from kilter.planning.soak.channel import Channel

OPENING = "# Soak plan: what is logged, and where it stops. Names are the headings of the log's columns.\n"


def soak_plan_text(board: str, hours: float, channels: Iterable[Channel]) -> str:
    """
    The plan as TOML; a limit that is not there is left out.

    >>> print(soak_plan_text("lamp", 8, [Channel("V5", "voltage", "V", 4.75, 5.25)]).splitlines()[-1])
    V5 = { quantity = "voltage", low = "4.75 V", high = "5.25 V" }
    """
    lines = [OPENING + f"kilter = 1\nsoak = {_quoted(board)}\nhours = {hours:g}\n\n[channels]"]
    for one in channels:
        cells = [f"quantity = {_quoted(one.quantity)}"] if one.quantity else []
        cells += [f"{key} = {_quoted(f'{value:.9g} {one.unit}'.strip())}"
                  for key, value in (("low", one.low), ("high", one.high)) if math.isfinite(value)]  # fmt: skip
        cells += [f"why = {_quoted(one.why)}"] if one.why else []
        lines.append(f"{_key(one.name)} = {{ {', '.join(cells)} }}")
    return "\n".join(lines) + "\n"


def _key(name: str) -> str:
    plain = name.isascii() and name.replace("_", "").replace("-", "").isalnum()
    return name if plain else _quoted(name)


def _quoted(word: str) -> str:
    """A TOML basic string."""
    return json.dumps(word, ensure_ascii=False).replace("\x7f", "\\u007F")
