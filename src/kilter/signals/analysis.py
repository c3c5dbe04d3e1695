"""Everything a waveform tells, each with its uncertainty, or the reason why it is not told."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from kilter.measure.measured import Measured
from kilter.signals.edge_line import EdgeLine
from kilter.signals.edges import Edges
from kilter.signals.levels import Levels
from kilter.signals.noise import Spread
from kilter.signals.sine_fit import SineFit

STEADY, STATES, SINE, OTHER = "steady", "two states", "sine", "other"
"""What a waveform is like."""

WORDS = {
    "mean": "mean", "peak_to_peak": "peak to peak", "rms_ac": "RMS about the mean", "noise": "noise, RMS",
    "low": "low state", "high": "high state", "swing": "swing", "rise": "rise time 10-90 %",
    "fall": "fall time 90-10 %", "overshoot": "overshoot", "undershoot": "undershoot", "frequency": "frequency",
    "period": "period", "high_time": "high time", "duty": "duty", "jitter": "jitter, RMS",
    "amplitude": "sine amplitude",
    "hum": "hum, RMS", "hum_frequency": "hum frequency", "other_ripple": "ripple without hum, RMS",
}  # fmt: skip
"""Every result, in the order it is told, in words for people."""


@dataclass(frozen=True, eq=False)
class Analysis:
    """
    What a waveform tells.

    Args:
        name: Of the channel.
        kind: One of STEADY, STATES, SINE, OTHER.
        results: By key of WORDS.
        missing: Why a result is not told, by key.
        doubts: One sentence for each thing that makes the results doubtful.
        spread: Sizes of the record.
        levels: State levels; None for a steady record.
        edges: Edges found; times in samples from `first`.
        line: Regression of the edges.
        sine: Sine fit.
        first: Index of the first sample that was looked at.
    """

    name: str
    kind: str
    results: Mapping[str, Measured]
    missing: Mapping[str, str]
    doubts: tuple[str, ...]
    spread: Spread
    levels: Levels | None = None
    edges: Edges | None = None
    line: EdgeLine | None = None
    sine: SineFit | None = None
    first: int = 0


@dataclass
class Findings:
    """Results under way."""

    results: dict[str, Measured] = field(default_factory=dict)
    missing: dict[str, str] = field(default_factory=dict)
    doubts: list[str] = field(default_factory=list)

    def tell(self, key: str, value: float, unit: str, uncertainty: float) -> None:
        """Tells a result; one that is no finite number is missing instead."""
        if math.isfinite(value) and math.isfinite(uncertainty):
            self.results[key] = Measured(value, unit, uncertainty)
        else:
            self.lack("the record does not hold enough of it", key)

    def lack(self, why: str, *keys: str) -> None:
        """Says why results are not told."""
        for key in keys:
            if key not in self.results:
                self.missing.setdefault(key, why)

    def doubt(self, words: str) -> None:
        """One more doubt, told once."""
        if words not in self.doubts:
            self.doubts.append(words)
