"""A grabbed trace as a new CSV file with time and volts; what is there already is never overwritten."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from kilter.measure.errors import BadInput
from kilter.signals.waveform import Waveform


def write_trace(path: Path, wave: Waveform) -> None:
    """
    Writes the trace.

    Raises:
        BadInput: There is such a file already, or it cannot be written.
    """
    times = wave.start + np.arange(len(wave.values)) * (wave.interval or 0.0)
    try:
        with path.open("x", encoding="utf-8", newline="") as file:
            file.write("".join(f"# {words}\n" for words in wave.warnings))
            file.write(f"Time (s),{wave.name} (V)\n")
            np.savetxt(file, np.column_stack([times, wave.values]), "%.9e", ",")
    except FileExistsError:
        raise _bad(path, "a file of that name, which is left as it is") from None
    except OSError as error:
        raise _bad(path, error.strerror or "an error of the disk") from None


def _bad(path: Path, found: str) -> BadInput:
    return BadInput(f"Cannot write the trace {path.name}", found, "a new file", "Choose another name or place.")
