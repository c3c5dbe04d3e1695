"""What a soak told, as plain values that can be kept and handed over: no infinities, nothing left out."""

from __future__ import annotations

import math
from typing import Any

from kilter.services.judge_soak import SoakVerdict


def told_soak(found: SoakVerdict) -> dict[str, Any]:
    """
    The verdict as plain data; what is infinite or not a number is null.

    A limit that is null is none; `least_switch_on` is null after a failure.
    """
    told: dict[str, Any] = _finite(found.plain())
    return told


def _finite(data: Any) -> Any:
    if isinstance(data, float):
        return data if math.isfinite(data) else None
    if isinstance(data, dict):
        return {key: _finite(one) for key, one in data.items()}
    if isinstance(data, (list, tuple)):
        return [_finite(one) for one in data]
    return data


def proved_words(told: dict[str, Any]) -> tuple[str, ...]:
    """
    What the hours prove, in sentences, and what they do not.

    >>> proved_words({"hours": 216.0, "failures": 0, "least_switch_on": None, "sessions": [],
    ...               "proofs": [{"confidence": 0.9, "least_mtbf_hours": 93.8}]})[0]
    '216 h were watched without failure; if failures come at an even rate, the mean time between failures is at least 93.8 h with 90 % confidence.'
    """  # noqa: E501
    failures = told["failures"]
    said = "without failure" if not failures else f"with {failures} failure{'s' if failures > 1 else ''}"
    bounds = " and ".join(f"{one['least_mtbf_hours']:.3g} h with {100 * one['confidence']:.0f} % confidence"
                          for one in told["proofs"])  # fmt: skip
    words = [f"{told['hours']:.4g} h were watched {said}; if failures come at an even rate, the mean time between "
             f"failures is at least {bounds}."]  # fmt: skip
    if told["least_switch_on"] is not None:
        level = max(one["confidence"] for one in told["proofs"])
        words.append(f"Switched on {len(told['sessions'])} times without failure: with {100 * level:.0f} % confidence "
                     f"that goes well in at least {100 * told['least_switch_on']:.0f} % of the times.")  # fmt: skip
    return (*words, NOT_PROVED)


NOT_PROVED = (
    "These hours prove no more than that: not that the object is safe, not that it will not wear, and nothing of what "
    "switching on and off does to it."
)
