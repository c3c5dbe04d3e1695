"""Logic families: levels with their neighbours, fan-out, speed (data/catalogue/families.toml)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import floor, inf
from typing import Any

from kilter.measure.tables import table
from kilter.parts.catalogue import find_type
from kilter.parts.substitutes.finding import CONDITIONS, FITS, NOT, UNKNOWN, Finding, lacking
from kilter.parts.substitutes.part_data import PartData, special

FIVE = 5.0
"""Supply for which data/catalogue/families.toml gives levels. [V]"""


def families() -> Mapping[str, Mapping[str, Any]]:
    """Families with levels and currents at 5 V, by key such as '74LS'."""
    return {key: row for key, row in table("catalogue/families").items() if "high_in" in row}


def fan_out(driver: str, load: str) -> int:
    """
    Loads of one family that an output of another drives within its guaranteed currents, high and low.

    >>> fan_out("74LS", "74LS"), fan_out("74", "74"), fan_out("74LS", "74"), fan_out("74HC", "74LS")
    (20, 10, 5, 10)
    """
    output, entry = families()[driver], families()[load]
    low, high = output["out_low_ma"] / entry["in_low_ma"], output["out_high_ma"] / entry["in_high_ma"]
    return floor(float(min(low, high)) + 1e-9)


def margins(driver: str, load: str) -> tuple[float, float]:
    """
    Guaranteed noise margins when one family drives another at 5 V, high and low. [V]

    >>> margins("74LS", "74HCT")[0] > 0 > margins("74LS", "74HC")[0]
    True
    """
    output, entry = families()[driver], families()[load]
    return output["high_out"] - entry["high_in"], entry["low_in"] - output["low_out"]


def gate_findings(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    """What the rules of logic chips say: same function, levels both ways, currents, speed."""
    yield from _function(wanted, offered)
    own, other = _family("wanted", wanted), _family("offered", offered)
    for one in (own, other):
        if isinstance(one, Finding):
            yield one
    if isinstance(own, Finding) or isinstance(other, Finding):
        return
    yield from _use(wanted, own, other)
    yield from _supply(wanted, other)
    yield from _driven(wanted, other)
    yield from _drives(wanted, other)
    yield from _speed(wanted, offered, own, other)


def _function(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    for side, part in (("wanted", wanted), ("offered", offered)):
        if not part.known("number"):
            yield lacking("function", side, "number")
            return
    want, have = find_type(str(wanted.fields["number"])), find_type(str(offered.fields["number"]))
    told = f"wanted {wanted.fields['number']}, offered {offered.fields['number']}"
    if want is None or have is None:
        yield Finding("function", UNKNOWN, f"{told}: not both are in the catalogue", "compare function and pins")
    elif want.key != have.key:
        yield Finding("function", NOT, told, "another function or other pins")
    else:
        yield Finding("function", FITS, f"{told}: both are the {want.key}")


def _family(side: str, part: PartData) -> str | Finding:
    written = part.fields.get("family")
    if written is None and part.known("number"):
        found = find_type(str(part.fields["number"]))
        if found is not None:
            written = f"74{found.family}" if found.key.startswith("74") else "4000B"
    if written is None:
        return lacking("family", side, "family")
    name = _named(str(written))
    return name or Finding("family", UNKNOWN, f"no levels are known of the family '{written}'", "see its data sheet",
                           f"{side} family")  # fmt: skip


def _named(word: str) -> str:
    """The key of a family written as 'LS', '74LS' or '4000B'; '' where there is none."""
    plain = word.strip().upper()
    return next((key for key in families() if plain in (key, key.removeprefix("74") or "TTL")), "")


def _use(wanted: PartData, own: str, other: str) -> Iterator[Finding]:
    if not wanted.known("use"):
        yield lacking("use", "wanted", "use", "as 'logic', or 'oscillator' where a gate works as an amplifier")
    elif wanted.fields["use"] not in ("logic", "general"):
        yield Finding("use", UNKNOWN, f"used as {wanted.fields['use']}: levels do not decide it",
                      "predict it with the circuit, or keep the original family")  # fmt: skip
    if _bipolar(own) and not _bipolar(other):
        yield Finding("open inputs", CONDITIONS, f"inputs of {own} read high when open, those of {other} float",
                      "tie every open input of the substitute to a level")  # fmt: skip


def _supply(wanted: PartData, other: str) -> Iterator[Finding]:
    """Supply of the place against what the family bears; the levels in the data are those at 5 V."""
    if not wanted.known("supply"):
        yield lacking("supply", "wanted", "supply", "a high-speed family is destroyed by what the 4000 series bears")
        return
    least, most = special("logic_supply")[other]
    supply = wanted.fields["supply"]
    told = f"{other} works on {least:g} to {most:g} V, the place has {supply:g} V"
    if not least <= supply <= most:
        yield Finding("supply", NOT, told, "another family is needed")
    elif abs(supply - FIVE) > special("logic_supply")["near_5"]:
        yield Finding("supply", UNKNOWN, f"{told}; levels are known at 5 V only", "compare the levels in both sheets")
    else:
        yield Finding("supply", FITS, told)


def _bipolar(family: str) -> bool:
    return bool(families()[family]["technology"] == "ttl")


def _neighbours(wanted: PartData, name: str, rule: str) -> tuple[list[str], list[Finding]]:
    """Families of the neighbours, and findings where they are not said or not known."""
    if wanted.of_no_matter(name):
        return [], []
    if not wanted.known(name):
        return [], [lacking(rule, "wanted", name, "families beside it, as LS, HC; 'any' where there is none")]
    named = [(word, _named(word)) for word in wanted.fields[name]]
    unknown = [Finding(rule, UNKNOWN, f"no levels are known of the family '{word}'", "", f"wanted {name}")
               for word, key in named if not key]  # fmt: skip
    return [key for _, key in named if key], unknown


def _driven(wanted: PartData, other: str) -> Iterator[Finding]:
    drivers, unknown = _neighbours(wanted, "driven_by", "input levels")
    yield from unknown
    for driver in dict.fromkeys(drivers):
        high, low = margins(driver, other)
        told = f"{driver} into {other}: margin {high:+.2f} V high, {low:+.2f} V low"
        if high < 0 or low < 0:
            yield Finding("input levels", NOT, told, "the level is not guaranteed; HCT has the levels of TTL")
        else:
            yield Finding("input levels", FITS, told)


def _drives(wanted: PartData, other: str) -> Iterator[Finding]:
    loads, unknown = _neighbours(wanted, "drives", "fan-out")
    yield from unknown
    if not loads:
        if wanted.of_no_matter("drives"):
            yield Finding("fan-out", FITS, "it drives nothing of this kind")
        return
    for load in dict.fromkeys(loads):
        high, low = margins(other, load)
        if high < 0 or low < 0:
            yield Finding("output levels", NOT, f"{other} into {load}: margin {high:+.2f} V high, {low:+.2f} V low",
                          "the level is not guaranteed")  # fmt: skip
    output = families()[other]
    used = max((sum(families()[load][of] for load in loads) / output[per] if output[per] else inf)
               for of, per in (("in_low_ma", "out_low_ma"), ("in_high_ma", "out_high_ma")))  # fmt: skip
    told = f"{len(loads)} load{'s' if len(loads) > 1 else ''} take {used * 100:.0f} % of what {other} guarantees"
    yield Finding("fan-out", FITS if used <= 1 + 1e-9 else NOT, told, "" if used <= 1 + 1e-9 else "too many loads")


def _speed(wanted: PartData, offered: PartData, own: str, other: str) -> Iterator[Finding]:
    if wanted.of_no_matter("delay"):
        return
    data = special("logic")
    want = float(wanted.fields.get("delay", data[own]))
    have = float(offered.fields.get("delay", data[other]))
    typical = "" if wanted.known("delay") and offered.known("delay") else " (typical of the family)"
    told = f"delay {want * 1e9:.3g} ns wanted, {have * 1e9:.3g} ns offered{typical}"
    if have > data["slower"] * want:
        yield Finding("speed", NOT, told, "slower than the original")
    elif have < data["faster"] * want:
        yield Finding("speed", CONDITIONS, told, "fast edges ring on long tracks and make glitches of races")
    elif have > want:
        yield Finding("speed", CONDITIONS, told, "a little slower: see whether the timing has room")
    elif typical and own != other:
        yield Finding("speed", CONDITIONS, told, "give 'delay' of both from their sheets")
    else:
        yield Finding("speed", FITS, told)
