"""Evidence and candidates: a reading taken, or one that could be, on the scale of its quantity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kilter.diagnose.settings import setting
from kilter.measure.errors import BadInput
from kilter.records.test import Test
from kilter.simulate.prediction import Prediction

TestKey = tuple[str, str, str, str]
"""Point, quantity, state, instrument: two tests with the same key read the same thing."""


def key_of(test: Test) -> TestKey:
    """What makes two tests the same test, whatever they cost."""
    return (test.point, test.quantity, test.state, test.instrument)


@dataclass(frozen=True, slots=True)
class Evidence:
    """
    One reading as the weigher needs it.

    Args:
        test: The test that was done.
        value: The number read, NaN for a word. [scaled]
        word: The word read, '' for a number.
        sd: Standard uncertainty of the instrument. [scaled]
        width: Length of the range over which a reading that means nothing may fall: what this board and this
            instrument could show, such as a bit more than the largest supply, not the range of a meter. [scaled]
        outlier: Chance that the reading is grossly wrong; None takes the setting.
        model_sd: Standard error of what the model leaves out; None takes a share of the width. [scaled]
        place: Where it was written down, for messages.
        doubtful: The person who took it would not stake much on it, which raises the chance of a gross error.
    """

    test: Test
    value: float = float("nan")
    word: str = ""
    sd: float = 0.0
    width: float = 1.0
    outlier: float | None = None
    model_sd: float | None = None
    place: str = ""
    doubtful: bool = False

    @property
    def gross(self) -> float:
        """Chance that the reading is grossly wrong."""
        share = setting("outlier") if self.outlier is None else self.outlier
        return max(share, setting("outlier_doubtful")) if self.doubtful else share

    @property
    def noise(self) -> float:
        """Standard deviation of instrument and model error together. [scaled]"""
        model = setting("model_error") * self.width if self.model_sd is None else self.model_sd
        return float((self.sd**2 + model**2) ** 0.5)


@dataclass(frozen=True, slots=True)
class Candidate:
    """
    A test that could be done next, with the instrument that would do it; the fields mean what they mean in `Evidence`.
    """

    test: Test
    sd: float = 0.0
    width: float = 1.0
    outlier: float | None = None
    model_sd: float | None = None

    @property
    def gross(self) -> float:
        """Chance that the reading would be grossly wrong."""
        return self.read().gross

    @property
    def noise(self) -> float:
        """Standard deviation of instrument and model error together. [scaled]"""
        return self.read().noise

    def read(self, value: float = float("nan"), word: str = "") -> Evidence:
        """The evidence that this test would give if it read so. [scaled]"""
        return Evidence(self.test, value, word, self.sd, self.width, self.outlier, self.model_sd)


def columns(predictions: Sequence[Prediction]) -> dict[TestKey, tuple[int, int]]:
    """Each predicted test's key to (which prediction, which column)."""
    return {key_of(test): (g, t) for g, one in enumerate(predictions) for t, test in enumerate(one.tests)}


def place_of(evidence: Evidence, where: dict[TestKey, tuple[int, int]]) -> tuple[int, int]:
    """
    Prediction and column that speak about this reading.

    Raises:
        BadInput: Nothing predicts it.
    """
    key = key_of(evidence.test)
    if key in where:
        return where[key]
    known = sorted({f"{point} {quantity}" for point, quantity, state, _ in where if state == key[2]})
    raise BadInput(
        "Cannot weigh a reading",
        f"{key[1]} at {key[0]} in state '{key[2]}' {evidence.place}".rstrip(),
        ", ".join(known[:20]) or "none: no test is predicted in that state",
        "Leave the reading out or give the board a point, a circuit or a block that predicts it.",
    )
