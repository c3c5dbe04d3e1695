"""Design what brings an old object to today's displays, amplifiers and mains, from a request or from a capture."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kilter.measure.errors import BadInput
from kilter.safety.adaptation.audio import AudioSource, design_audio
from kilter.safety.adaptation.converter import Converter, design_converter
from kilter.safety.adaptation.decoupling import NoiseLine, design_decoupling
from kilter.safety.adaptation.design import Design
from kilter.safety.adaptation.regulator import RegulatorWanted, design_regulator
from kilter.safety.adaptation.transformer import OtherMains, choose_transformer
from kilter.safety.adaptation.video import design_video
from kilter.safety.adaptation.video_circuit import VideoSource

Request = VideoSource | AudioSource | OtherMains | RegulatorWanted | Converter | NoiseLine

NOT_CHECKED = (
    "Worked out from a model with the tolerances stated. Not looked at: the object itself, stray capacitance and "
    "layout, heat inside the case, what else hangs on the same supply. Nothing here says that anything may be switched "
    "on or joined."
)


def design_adaptation(request: Request) -> Design:
    """
    The design that answers a request.

    Raises:
        OutOfRange: It cannot be done with these numbers.
    """
    match request:
        case VideoSource():
            return design_video(request)
        case AudioSource():
            return design_audio(request)
        case OtherMains():
            return choose_transformer(request)
        case RegulatorWanted():
            return design_regulator(request)
        case Converter():
            return design_converter(request)
        case NoiseLine():
            return design_decoupling(request)


def strongest_line(told: Mapping[str, Any], channel: str = "") -> tuple[float, float]:
    """
    The strongest line of a capture.

    Args:
        told: What 'kilter capture FILE --lines-of RATE --json' printed.
        channel: Of that name alone; '' for the only one that has lines.

    Returns:
        Frequency and peak amplitude. [Hz, V]

    Raises:
        BadInput: There are no lines, or several channels and none was named.

    >>> strongest_line({"lines": {"A": [{"frequency": 100.0, "amplitude": 0.3}, {"frequency": 200.0, "amplitude": 0}]}})
    (100.0, 0.3)
    """
    doing = "Cannot take a noise line from the capture"
    lines = told.get("lines") if isinstance(told, Mapping) else None
    named = {name: found for name, found in lines.items() if found} if isinstance(lines, Mapping) else {}
    if not named:
        raise BadInput(doing, "no spectral lines", "what 'kilter capture FILE --lines-of RATE --json' prints",
                       "Ask for lines with --lines-of, or give --hertz and --noise.")  # fmt: skip
    if channel not in named and (channel or len(named) > 1):
        raise BadInput(doing, f"the channel '{channel}'" if channel else f"{len(named)} channels with lines",
                       ", ".join(named), "Name one of these with --channel.")  # fmt: skip
    found = named[channel] if channel else next(iter(named.values()))
    try:
        volts, hertz = max((float(one["amplitude"]), float(one["frequency"])) for one in found)
    except (KeyError, TypeError, ValueError) as error:
        raise BadInput(doing, f"lines of another form ({type(error).__name__}: {error})",
                       "objects with 'frequency' and 'amplitude'", "Print the capture again.") from None  # fmt: skip
    return hertz, volts


def composite_rates(told: Mapping[str, Any]) -> tuple[float, float | None, float | None]:
    """
    Line rate, field rate and subcarrier of a capture of composite video, None where it has none. [Hz]

    Args:
        told: What 'kilter capture FILE --composite CHANNEL --json' printed.

    Raises:
        BadInput: It holds no line rate.

    >>> composite_rates({"composite": {"results": {"line_rate": {"value": 15625.0}}}})
    (15625.0, None, None)
    """
    try:
        results = told["composite"]["results"]
        found = {
            key: float(one["value"]) for key, one in results.items() if key in ("line_rate", "field", "subcarrier")
        }
        return found["line_rate"], found.get("field"), found.get("subcarrier")
    except (KeyError, TypeError, ValueError, AttributeError):
        raise BadInput("Cannot take the rates from the capture", "no line rate of composite video",
                       "what 'kilter capture FILE --composite CHANNEL --json' prints",
                       "Capture the video signal, or give --line.") from None  # fmt: skip
