"""
Whether an adaptor suits an object: refused, only with conditions, or nothing found against it. Never 'safe'.

Each rule looks at one thing and answers with a finding. What is not known is a finding too: nothing unknown is let
through. The verdict is the worst finding.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import sqrt

from kilter.records.power import Mains, Offered, Wanted
from kilter.safety.adaptor_volts import AtPlug, at_plug, number

REFUSED, CONDITION, NOTHING = "refused", "only with conditions", "nothing found against it"
VERDICTS = (NOTHING, CONDITION, REFUSED)
"""From the mildest to the severest."""


@dataclass(frozen=True)
class Finding:
    """
    What one rule says.

    Args:
        rule: Its key, such as 'polarity'.
        level: One of VERDICTS.
        words: What was found, with numbers.
        do_next: What to do about it, '' where nothing.
    """

    rule: str
    level: str
    words: str
    do_next: str = ""


@dataclass(frozen=True)
class AdaptorVerdict:
    """
    The worst of the findings, and all of them.

    Args:
        findings: In the order of the rules.
        plug: Range of volts at the object's plug, None where it could not be worked out.
    """

    findings: tuple[Finding, ...]
    plug: AtPlug | None

    @property
    def verdict(self) -> str:
        """One of VERDICTS."""
        return max((one.level for one in self.findings), key=VERDICTS.index, default=REFUSED)


def check_adaptor(wanted: Wanted, offered: Offered, mains: Mains) -> AdaptorVerdict:
    """What speaks against feeding this object from this adaptor on this mains."""
    plug = at_plug(offered, wanted.current, mains) if wanted.current is not None else None
    rules = (
        _kind(wanted, offered),
        _polarity(wanted, offered),
        _volts(wanted, offered, plug),
        _current(wanted, offered),
        _mains(offered, mains),
        _flux(offered, mains),
        _fit(wanted, offered),
    )
    return AdaptorVerdict(tuple(finding for rule in rules for finding in rule), plug)


def _unknown(rule: str, what: str, do_next: str) -> Finding:
    return Finding(rule, REFUSED, f"{what} is not known", do_next)


def _kind(wanted: Wanted, offered: Offered) -> Iterator[Finding]:
    if wanted.kind is None:
        yield _unknown("kind", "whether the object wants direct or alternating current", "Follow its input: a diode or "
                       "a bridge, a transformer winding, or straight to a regulator.")  # fmt: skip
    elif offered.kind is None:
        yield _unknown("kind", "whether the adaptor gives direct or alternating current", "Measure both, open.")
    elif wanted.kind == offered.kind:
        yield Finding("kind", NOTHING, f"both are {wanted.kind}")
    elif wanted.rectifies:
        yield Finding("kind", CONDITION, f"the object says {wanted.kind}, the adaptor gives {offered.kind}, and a "
                      "bridge rectifier follows the input", "Work out the volts behind the bridge.")  # fmt: skip
    elif offered.kind == "ac":
        yield Finding("kind_ac_into_dc", REFUSED, "alternating current into an input for direct current: reversed half "
                      "of the time, with a peak 1.41 times the nameplate", "Use a direct-current supply.")  # fmt: skip
    else:
        yield Finding("kind_dc_into_ac", REFUSED, "direct current into an input for alternating current: a transformer "
                      "winding is then all but a short circuit", "Use an alternating-current supply.")  # fmt: skip


def _polarity(wanted: Wanted, offered: Offered) -> Iterator[Finding]:
    if wanted.kind == "ac" or offered.kind == "ac" or wanted.rectifies:
        if wanted.kind is not None and offered.kind is not None:
            yield Finding("polarity", NOTHING, "of no matter here")
    elif wanted.polarity is None:
        yield _unknown("polarity", "the polarity that the object wants", "Find which contact of its socket is ground.")
    elif offered.polarity is None:
        yield _unknown("polarity", "the polarity of the adaptor's plug", "Measure it, open, with a meter.")
    elif wanted.polarity != offered.polarity:
        yield Finding("polarity", REFUSED, f"the object wants {wanted.polarity}, the adaptor is {offered.polarity}",
                      "Do not connect it; a lead that crosses the two needs a label that cannot be lost.")  # fmt: skip
    else:
        yield Finding("polarity", NOTHING, f"both are {wanted.polarity}")


def limits(wanted: Wanted) -> tuple[float, float] | None:
    """Lowest and highest volts at the object's input, from what is known or from the data. [V]"""
    if wanted.volts is None:
        return (wanted.lowest, wanted.highest) if wanted.lowest is not None and wanted.highest is not None else None
    group = "range_ac" if wanted.kind == "ac" else "range_with_regulator"
    if wanted.kind != "ac" and not wanted.regulates:
        group = "range_without_regulator"
    low, high = (wanted.volts * number(group, key) for key in ("low", "high"))
    return (low if wanted.lowest is None else wanted.lowest, high if wanted.highest is None else wanted.highest)


def _volts(wanted: Wanted, offered: Offered, plug: AtPlug | None) -> Iterator[Finding]:
    allowed = limits(wanted)
    if allowed is None:
        yield _unknown("volts", "what voltage the object wants", "Find its rating or its regulator's input range.")
        return
    if plug is None:
        yield _unknown("volts", "what the adaptor gives at the object's current", "Measure it open and with a resistor "
                       "that draws the object's current; note whether it is regulated.")  # fmt: skip
        return
    factor, off = _behind_bridge(wanted, offered)
    low, high = allowed
    span, nominal = ([factor * volts - off for volts in pair] for pair in (plug.loaded, plug.loaded_nominal))
    most = factor * plug.open_most - off
    told = f"{span[0]:.3g} to {span[1]:.3g} V at the object's current, up to {most:.3g} V without load; it may have " \
           f"{low:.3g} to {high:.3g} V"  # fmt: skip
    if span[1] > high:
        yield Finding("too_high", REFUSED, told, "Use a supply of the right voltage.")
    elif most > high:
        yield Finding("open_high", CONDITION, f"until it is loaded, {told}", "Connect it to the object first "
                      "and switch on a lamp or resistor across it too, or put a regulator between.")  # fmt: skip
    if nominal[0] < low:
        yield Finding("too_low", REFUSED, told, "Use a supply of the right voltage.")
    elif span[0] < low:
        yield Finding("low_mains", CONDITION, f"at the lowest mains, {told}", "Measure under load.")
    if low <= span[0] and max(span[1], most) <= high:
        yield Finding("volts", NOTHING, told)


def _behind_bridge(wanted: Wanted, offered: Offered) -> tuple[float, float]:
    """Factor and drop from the plug's volts to those that the object's limits speak of."""
    if wanted.rectifies and wanted.kind == "dc" and offered.kind == "ac":
        return sqrt(2.0), number("bridge_drop", "volts")
    return (1.0 / sqrt(2.0), 0.0) if wanted.rectifies and wanted.kind == "ac" and offered.kind == "dc" else (1.0, 0.0)


def _current(wanted: Wanted, offered: Offered) -> Iterator[Finding]:
    if wanted.current is None:
        yield _unknown("current", "what current the object draws", "Add up its parts, or measure behind a limit.")
    elif offered.current is None:
        yield _unknown("current", "what current the adaptor can give", "Read its plate.")
    elif offered.current < wanted.current:
        yield Finding("current", REFUSED, f"it can give {offered.current:.3g} A, the object draws up to "
                      f"{wanted.current:.3g} A", "Use a stronger supply: this one overheats.")  # fmt: skip
    else:
        yield Finding("current", NOTHING, f"{offered.current:.3g} A for {wanted.current:.3g} A")
    if wanted.regulates is None and wanted.kind == "dc":
        yield Finding("regulated", CONDITION, "whether the object has a regulator of its own is not known; the narrow "
                      "range of one without was used", "Look behind its input.")  # fmt: skip
    if wanted.kind == "dc" and wanted.regulates is False and offered.regulated is False:
        yield Finding("regulated", REFUSED, "the object has no regulator of its own and the adaptor is not regulated: "
                      "ripple and light load reach the chips", "Use a regulated supply.")  # fmt: skip


def _mains(offered: Offered, mains: Mains) -> Iterator[Finding]:
    if offered.mains_volts is None:
        yield _unknown("mains", "for what mains voltage the adaptor is made", "Read its plate.")
    elif mains.volts is None:
        yield _unknown("mains", "the mains voltage at the place of use", "Say where it is used.")
    else:
        low, high = offered.mains_volts
        told = f"made for {low:.4g} to {high:.4g} V, used on {mains.volts:.4g} V"
        if mains.volts > high * mains.high:
            yield Finding("mains", REFUSED, f"the mains is too high: {told}", "Use a step-down transformer of enough "
                          "power, or another adaptor.")  # fmt: skip
        elif mains.volts < low * mains.low:
            yield Finding("mains", REFUSED, f"the mains is too low: {told}", "Use another adaptor or a step-up "
                          "transformer.")  # fmt: skip
        elif low <= mains.volts <= high:
            yield Finding("mains", NOTHING, told)
        else:
            yield Finding("mains", CONDITION, f"the mains is beside the rating, within its tolerance: {told}",
                          "Measure the output under load and feel for heat after an hour.")  # fmt: skip


def _flux(offered: Offered, mains: Mains) -> Iterator[Finding]:
    """Volts per hertz, which decide whether a transformer's core saturates."""
    if offered.mains_hertz is None:
        yield _unknown("flux", "for what mains frequency the adaptor is made", "Read its plate.")
    elif mains.hertz is None:
        yield _unknown("flux", "the mains frequency at the place of use", "Say where it is used.")
    elif offered.mains_volts is not None and mains.volts is not None:
        rated = offered.mains_volts[1] / min(offered.mains_hertz)
        ratio = mains.volts / mains.hertz / rated
        if ratio > number("flux", "most"):
            yield Finding("flux", REFUSED, f"volts per hertz {ratio:.2f} times the rating: a transformer saturates and "
                          "overheats", "Use an adaptor made for this frequency.")  # fmt: skip
        elif mains.hertz not in offered.mains_hertz:
            yield Finding("flux", CONDITION, f"{mains.hertz:g} Hz is not on its plate; volts per hertz "
                          f"{ratio:.2f} times the rating", "Feel for heat after an hour.")  # fmt: skip
        else:
            yield Finding("flux", NOTHING, f"{mains.hertz:g} Hz, volts per hertz {ratio:.2f} times the rating")


def _fit(wanted: Wanted, offered: Offered) -> Iterator[Finding]:
    if wanted.plug is None or offered.plug is None:
        yield Finding("plug", CONDITION, "whether the plug fits was not said", "Compare inner and outer diameter; a "
                      "plug that nearly fits makes and breaks.")  # fmt: skip
    elif wanted.plug.casefold().split() != offered.plug.casefold().split():
        yield Finding("plug", CONDITION, f"the object wants '{wanted.plug}', the adaptor has '{offered.plug}'",
                      "Make a short lead; check polarity at its end again.")  # fmt: skip
    else:
        yield Finding("plug", NOTHING, f"both are '{wanted.plug}'")
    if wanted.fuse is None:
        yield Finding("fuse", CONDITION, "whether the object has a fuse was not said", "Look; without one, limit the "
                      "current outside.")  # fmt: skip
    else:
        yield Finding("fuse", NOTHING, f"the object's fuse: {wanted.fuse}")
