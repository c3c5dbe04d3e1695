"""
A collection's track record: what its own finished visits say about how far to trust the probabilities it is shown now.

The probabilities of a diagnosis stay as they are; beside them stands what such calls turned out to be worth here, once
there are visits enough to judge that on others than those it was fitted to.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from kilter.diagnose.recalibration import Recalibration
from kilter.services.report_calibration import Told, calibration_of
from kilter.services.wording import percent


@dataclass(frozen=True)
class TrackRecord:
    """
    How calls came true here.

    Args:
        visits: With a known outcome.
        curve: What a call turned out to be worth.
        brier: Brier score of the calls.
        brier_recalibrated: The same after recalibration, each visit by a fit to the others.
    """

    visits: int
    curve: Recalibration
    brier: float
    brier_recalibrated: float

    @property
    def helps(self) -> bool:
        """Whether recalibrated calls were nearer to the truth than the calls themselves."""
        return self.brier_recalibrated < self.brier

    def plain(self, called: Mapping[str, float]) -> dict[str, Any]:
        """
        As plain data.

        Args:
            called: Probability of each suspect now.
        """
        worth = {part: float(self.curve([share])[0]) for part, share in called.items()}
        return {
            "visits": self.visits,
            "brier": self.brier,
            "brier_recalibrated": self.brier_recalibrated,
            "helps": self.helps,
            "suspects": [{"part": part, "recalibrated": share} for part, share in worth.items()],
        }

    def lines(self, called: Mapping[str, float], shown: int) -> list[str]:
        """For people: the first suspects, and whether to mind it."""
        pairs = [(part, share, float(self.curve([share])[0])) for part, share in list(called.items())[:shown]]
        words = ", ".join(f"{part} called {percent(share)}: {percent(worth)}" for part, share, worth in pairs)
        verdict = "nearer to the truth than" if self.helps else "no nearer to the truth than"
        return [
            f"By what came of such calls in {self.visits} visits here: {words or 'no suspect is named'}.",
            f"Recalibrated so, calls were {verdict} as they are called (Brier score {self.brier_recalibrated:.3f} and "
            f"{self.brier:.3f}; the smaller is better).",
        ]


def track_record(visits: Sequence[Sequence[Told]]) -> TrackRecord | None:
    """The record of a collection's own visits; None while they are too few to judge a recalibration."""
    found = calibration_of(visits)
    if found.recalibrated is None:
        return None
    return TrackRecord(found.visits, found.curve, found.as_called.brier, found.recalibrated.brier)
