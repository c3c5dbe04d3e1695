"""A waveform: evenly spaced samples of one channel, and the capture that holds those of one file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from kilter.measure.errors import BadInput

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Waveform:
    """
    Evenly spaced samples of one channel.

    Args:
        name: As the file calls the channel.
        values: Samples; NaN where the file has none. [unit], shape (n_samples,)
        interval: Time from sample to sample; None where the file does not say. [s]
        start: Time of the first sample. [s]
        unit: 'V', 'A' or '' where the file does not say.
        interval_uncertainty: Relative standard uncertainty of the interval from the digits of the file alone.
        warnings: One sentence for each thing doubted while reading.
    """

    name: str
    values: Floats
    interval: float | None
    start: float = 0.0
    unit: str = "V"
    interval_uncertainty: float = 0.0
    warnings: tuple[str, ...] = ()

    @property
    def duration(self) -> float:
        """Length of the record; NaN where the interval is not known. [s]"""
        return float("nan") if self.interval is None else self.interval * len(self.values)

    def scaled(self, factor: float) -> Waveform:
        """The same with another probe ratio: 10 where a 10:1 probe was set to 1:1 on the instrument."""
        return replace(self, values=self.values * factor)


@dataclass(frozen=True, eq=False)
class Capture:
    """
    What one file holds.

    Args:
        file: Its name, without folder.
        sha256: Of its bytes, in hexadecimal.
        waveforms: In the order of the file.
        remarks: What the file says of itself: name to text, such as 'Probe' to '10X'.
        warnings: One sentence for each thing doubted about the whole file.
    """

    file: str
    sha256: str
    waveforms: tuple[Waveform, ...]
    remarks: Mapping[str, str] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()

    def channel(self, name: str) -> Waveform:
        """
        The waveform of that name, in any case, or by its place counted from 1.

        Raises:
            BadInput: There is none; the message lists those there are.
        """
        for place, wave in enumerate(self.waveforms, 1):
            if name.strip().lower() in (wave.name.lower(), str(place)):
                return wave
        raise BadInput(
            f"Cannot read the capture {self.file}", f"the channel '{name}', which the file does not have",
            ", ".join(f"{wave.name} ({place})" for place, wave in enumerate(self.waveforms, 1)),
            "Name one of these channels, or its number.",
        )  # fmt: skip
