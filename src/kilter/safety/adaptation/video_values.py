"""
Part values of the video driver: first from formulas, then the best of the preferred values around them.

The signal is moved to where the transistors work by resistors alone, so that no capacitor tilts it; a capacitor in the
output only where a display cannot take the resting voltage.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product
from math import log, pi

import numpy as np

from kilter.measure.e_series import at_least, at_most, nearest, neighbours
from kilter.measure.errors import OutOfRange
from kilter.safety.adaptation.evaluate import solve_choices
from kilter.safety.adaptation.video_circuit import VideoSource, elements, picture_means, video_number, wanted_hertz

DOING = "Cannot design the video driver"
JUNCTION = 0.7
"""A silicon junction that conducts, for first values only. [V]"""
FOLLOWER_GAIN = 0.985
"""For first values only."""


def choose_values(source: VideoSource) -> dict[str, float]:
    """
    Values by reference; with 'R5' there is a feedback pair before the follower, with 'C1' a capacitor in the output.

    Raises:
        OutOfRange: No such driver can do it from that supply.
    """
    first = _follower(source) or _pair(source)
    kept = {name: nearest(value) if name.startswith("R") else value for name, value in first.items()}
    return _best(source, kept)


def lowest_emitter(source: VideoSource) -> float:
    """
    Where the follower's emitter stands at the tip of sync. [V]

    Without a capacitor as low as the follower works; with one in the middle of what the supply leaves, since the
    emitter resistor then takes the line's current at little voltage.
    """
    if not source.coupled:
        return video_number("emitter", "direct")
    left = source.supply - 2 * video_number("line", "volts") - JUNCTION - video_number("pair", "headroom")
    return max(video_number("emitter", "coupled"), left / 2)


def _follower(source: VideoSource) -> dict[str, float] | None:
    """Three resistors and the follower; None where the source is too small, or cannot be moved where it works."""
    wanted = 2 * video_number("line", "volts")
    share = wanted / source.span / FOLLOWER_GAIN
    base = lowest_emitter(source) + JUNCTION
    rest = base - share * source.low
    ohm = max(video_number("network", "ohm"), share * (source.ohm + 10))
    room = 1 / ohm * (1 - share) - rest / (source.supply * ohm)
    if share > 1 or rest <= 0 or room < 0 or base + wanted + video_number("emitter", "headroom") > source.supply:
        return None
    found = {"R1": ohm / share - source.ohm, "R3": ohm * source.supply / rest}
    return {
        **found,
        **({"R2": 1 / room} if room > 1e-6 else {}),
        **_output(source, video_number("line", "series_follower")),
    }


def _pair(source: VideoSource) -> dict[str, float]:
    """
    Two resistors, a feedback pair of gain 1 + R6/R5, and the follower; R5 carries the first transistor's current too.

    Its input rests where the follower's base then stands right: y = x (1 + R6/R5) - R6 I. C2 slows the gain so that the
    loop closes without a peak: with feedback by current its bandwidth is about 1 / (2 pi R6 C2).
    """
    wanted, base = 2 * video_number("line", "volts"), lowest_emitter(source) + JUNCTION
    current, feedback = 1e-3 * video_number("pair", "collector_ma"), video_number("pair", "feedback_ohm")
    ohm = max(video_number("network", "ohm"), source.ohm + 100)
    fast = video_number("pair", "closes_at") * wanted_hertz(source)
    least = base + wanted + video_number("pair", "headroom")
    if least > source.supply:
        raise OutOfRange(DOING, f"a supply of {source.supply:g} V", f"{least:.1f} V or more",
                         "Take a higher supply, or do without the coupling capacitor.")  # fmt: skip
    share, rest, gain = 0.8, 0.0, 1.0
    for _ in range(40):
        gain = wanted / FOLLOWER_GAIN / (share * source.span)
        rest = (base + feedback * current) / gain + JUNCTION - share * source.low
        share = 1 - rest / source.supply
        if not 0.1 < share <= 1.0:
            raise OutOfRange(DOING, f"a signal from {source.low:g} to {source.high:g} V", "one that resistors can "
                             "bring to where the pair works", "Take a higher supply, or a source that stands nearer to "
                             "ground.")  # fmt: skip
    if gain < 1.05:
        raise OutOfRange(DOING, f"a signal of {source.span:g} V from {source.low:g} V up with {source.supply:g} V",
                         "one that the follower alone can carry, or a smaller one for the pair",
                         "Take a higher supply, or a divider before the driver.")  # fmt: skip
    return {
        "R1": max(ohm / share - source.ohm, 10.0),
        "R3": ohm * source.supply / rest,
        "R4": JUNCTION / current,
        "R5": feedback / (gain - 1),
        "R6": feedback,
        "C2": nearest(1 / (2 * pi * feedback * fast), "E6"),
        "R7": base / (1e-3 * video_number("pair", "output_ma")),
        **_output(source, video_number("line", "series_pair")),
    }


def _output(source: VideoSource, series: float) -> dict[str, float]:
    """
    Emitter resistor, line resistor and capacitor.

    C = T / (R ln(1 / (1 - tilt))) at the low end of its tolerance. With it, the line pushes current into the emitter
    at the tip of sync, most so in a white picture, and the emitter resistor has to take that without the transistor.
    """
    ohm = video_number("line", "ohm") + series
    found = {"R8": nearest(video_number("emitter", "ohm")), "R9": series}
    if source.coupled:
        pushed = picture_means()[1] * 2 * video_number("line", "volts") / ohm
        found["R8"] = at_most(lowest_emitter(source) / (pushed + 1e-3 * video_number("emitter", "reserve_ma")))
        farads = 1 / source.field_hz / (ohm * -log(1 - source.tilt))
        found["C1"] = at_least(farads / (1 - video_number("part", "capacitor_tolerance")), "E6")
    return found


def _best(source: VideoSource, kept: Mapping[str, float]) -> dict[str, float]:
    """The preferred values near the first ones that miss level and rest least, each counted by its own allowance."""
    moved = [name for name in ("R1", "R2", "R3", "R5", "R6") if name in kept]
    choices = np.array(list(product(*(neighbours(kept[name], 1) for name in moved)))).T
    ohms, parts = dict(zip(moved, choices, strict=True)), elements(source, kept)
    level = solve_choices(parts, {}, ohms).gain("out", video_number("line", "middle_hz")) * source.span
    rest = solve_choices(parts, {"VIN": source.low}, ohms).at("e")
    miss = np.abs(level / video_number("line", "volts") - 1) / video_number("emitter", "gain_allowance")
    miss += np.abs(rest - lowest_emitter(source)) / video_number("emitter", "allowance")
    if not np.isfinite(miss).any():
        raise OutOfRange(DOING, "no resting point with any of the preferred values", "a circuit that rests somewhere",
                         "Look at the levels and the supply again.")  # fmt: skip
    best = int(np.nanargmin(miss))
    return {**kept, **{name: float(values[best]) for name, values in ohms.items()}}
