"""What leading suspects expect a test to read, in words for the bench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import overload

import numpy as np

from kilter.diagnose.expect import Expected
from kilter.diagnose.posterior import Posterior
from kilter.measure.measured import engineering
from kilter.measure.quantities import quantity
from kilter.measure.scales import from_scale
from kilter.simulate.prediction import Floats

MOST_SUSPECTS = 4
BAND = 2.0
"""Standard deviations on either side that the band in words covers."""
INVISIBLE = {"linear": 1e-6, "log": 0.05}
"""What is shown as zero: on a linear scale this share of the largest reading, on a log scale of the floor."""


@dataclass(frozen=True)
class Outlook:
    """
    What one suspect expects of one test.

    Args:
        suspect: Part reference, or 'nothing wrong'.
        words: Such as '4.90 V to 5.10 V', 'mostly pulsing' or 'anything'.
    """

    suspect: str
    words: str


class Outlooks(Sequence[Outlook]):
    """
    The outlooks of one test, put into words when somebody looks at them: of fifty open tests a page shows six.

    Args:
        posterior: What is believed.
        expected: The mixture over the open tests.
        test: Place among its candidates.
    """

    def __init__(self, posterior: Posterior, expected: Expected, test: int) -> None:
        self._of = (posterior, expected, test)

    @cached_property
    def _found(self) -> tuple[Outlook, ...]:
        return outlooks(*self._of)

    @overload
    def __getitem__(self, place: int) -> Outlook: ...
    @overload
    def __getitem__(self, place: slice) -> Sequence[Outlook]: ...
    def __getitem__(self, place: int | slice) -> Outlook | Sequence[Outlook]:
        return self._found[place]

    def __len__(self) -> int:
        return len(self._found)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and self._found == tuple(other)

    def __hash__(self) -> int:
        return hash(self._found)


def outlooks(posterior: Posterior, expected: Expected, test: int) -> tuple[Outlook, ...]:
    """Expected readings under 'nothing wrong' and under the likeliest hypothesis of each of the leading suspects."""
    found = [Outlook("nothing wrong", healthy_words(expected, test))] if test not in expected.words else []
    for part in list(posterior.parts())[:MOST_SUSPECTS]:
        row = next((h for h, one in enumerate(expected.hypotheses) if any(ref == part for ref, _ in one)), None)
        if row is not None:
            found.append(Outlook(part, expected_words(expected, test, row)))
    return tuple(found)


def expected_words(expected: Expected, test: int, row: int) -> str:
    """What one hypothesis of the mixture expects of one test."""
    if test in expected.words:
        names, chances = expected.words[test]
        return likely_words(names, chances[row])
    if expected.unknown[row, test] > 0.5:
        return "anything"
    return band_words(
        expected.candidates[test].test.quantity, float(expected.mean[row, test]), float(expected.spread[row, test])
    )


def healthy_words(expected: Expected, test: int) -> str:
    """What a healthy board reads."""
    mean, spread = expected.healthy[:, test]
    return band_words(expected.candidates[test].test.quantity, float(mean), float(spread))


@lru_cache(maxsize=16384)
def band_words(quantity_key: str, mean: float, spread: float) -> str:
    """
    A band of two standard deviations on the quantity's scale. [scaled in, unit out]

    >>> band_words("voltage", 5.0, 0.05)
    '4.90 V to 5.10 V'
    >>> band_words("voltage", 1e-7, 0.0)
    '0 V'
    >>> band_words("frequency", np.log(1001.0), 0.0002)
    '1.00 kHz'
    """
    if not np.isfinite(mean):
        return "anything"
    ends = from_scale(quantity_key, [mean - BAND * spread, mean + BAND * spread])
    what = quantity(quantity_key)
    nothing = INVISIBLE[what.scale] * (what.floor if what.scale == "log" else max(abs(what.low), abs(what.high)))
    low, high = (engineering(float(end) if abs(end) >= nothing else 0.0, what.unit) for end in ends)
    return low if low == high else f"{low} to {high}"


def likely_words(names: tuple[str, ...], chances: Floats) -> str:
    """
    The words that make up most of the chance, likeliest first.

    >>> likely_words(("low", "high", "pulsing"), np.array([0.02, 0.03, 0.95]))
    'pulsing'
    """
    order = np.argsort(-chances, kind="stable")
    needed = int(np.searchsorted(np.cumsum(chances[order]), 0.8)) + 1
    return "anything" if needed == len(names) > 1 else " or ".join(names[k] for k in order[:needed])
