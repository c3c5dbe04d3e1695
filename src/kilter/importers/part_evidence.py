"""Evidence about parts that another command worked out: the `evidence` list of its machine-readable answer."""

from __future__ import annotations

import json
from collections.abc import Iterable
from math import isfinite
from pathlib import Path
from typing import Any

from kilter.importers.text_files import read_text
from kilter.measure.errors import BadInput

Mode = tuple[str, str]
"""(part reference, mode key), as everywhere."""

FORM = '{"evidence": [{"part": "U7", "mode": "dead", "log_ratio": 2.3}, ...]}'
LARGEST = 30.0
"""Natural logarithm of the largest factor that is taken; nothing a person knows is surer."""


def read_part_evidence(paths: Iterable[str | Path]) -> dict[Mode, float]:
    """
    Log likelihood ratio, against a healthy part, of each failure mode that these files speak of; files add up.

    Raises:
        BadInput: Not readable, not of that form, or a ratio that is no number or beyond ±30.
    """
    found: dict[Mode, float] = {}
    for path in map(Path, paths):
        for mode, ratio in _entries(path):
            found[mode] = found.get(mode, 0.0) + ratio
    return found


def _entries(path: Path) -> list[tuple[Mode, float]]:
    doing = f"Cannot read the evidence about parts {path.name}"
    try:
        listed: Any = json.loads(read_text(path, "the evidence about parts"))["evidence"]
        rows = [((row["part"], row["mode"]), row["log_ratio"]) for row in listed]
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise BadInput(doing, f"no list of evidence ({type(error).__name__})", FORM,
                       "Give what 'kilter memory ... --bank FILE --json' printed.") from None  # fmt: skip
    for (part, mode), ratio in rows:
        number = isinstance(ratio, int | float) and not isinstance(ratio, bool) and isfinite(ratio)
        if not (isinstance(part, str) and isinstance(mode, str) and number and abs(ratio) <= LARGEST):
            raise BadInput(doing, f"'{ratio}' for the mode '{mode}' of '{part}'"[:200],
                           f"names, and a natural logarithm from -{LARGEST:g} to {LARGEST:g}",
                           "Correct the entry.")  # fmt: skip
    return rows
