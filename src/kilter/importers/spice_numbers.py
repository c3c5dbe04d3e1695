"""
SPICE numbers: digits, an optional exponent, an optional scale suffix, and letters that SPICE ignores.

`M` is milli whatever its case, and `MEG` is mega; `1F` is one femto; `2k2` is 2k with an ignored tail. The reader gives
what SPICE gives and says in words where a person probably meant something else.

Source: ngspice manual, section on naming conventions and scale factors; compared with ngspice 39 in
tests/importers/test_spice_numbers.py.
"""

from __future__ import annotations

import math
import re

SCALES = {"t": 12, "g": 9, "meg": 6, "k": 3, "mil": -6, "m": -3, "u": -6, "µ": -6, "μ": -6, "n": -9, "p": -12, "f": -15}
"""Power of ten by lower-case suffix; both micro signs are taken as u. A mil is 25.4e-6 (of a metre)."""
MIL = 25.4

NUMBER = re.compile(
    r"(?P<digits>[+-]?(?:\d+\.?\d*|\.\d+))(?:[ed](?P<exponent>[+-]?\d{1,6}))?(?P<tail>(?![ed][+-]?\d)[^\W\d_]\w*)?",
    re.IGNORECASE,
)
TAIL = re.compile(r"(?P<scale>meg|mil|[tgkmuµμnpf])?(?P<rest>.*)", re.IGNORECASE)


def spice_number(text: str) -> float | None:
    """
    The number that SPICE reads, or None where the text is no number.

    >>> spice_number("4.7k"), spice_number("1MegOhm"), spice_number("1M"), spice_number("rmod")
    (4700.0, 1000000.0, 0.001, None)
    """
    match = NUMBER.fullmatch(text)
    if not match:
        return None
    scale, _rest = _tail(match)
    exponent = int(match["exponent"] or 0)
    value = float(f"{match['digits']}e{exponent + SCALES.get(scale, 0)}") * (MIL if scale == "mil" else 1.0)
    return value if math.isfinite(value) else None


def spice_doubt(text: str, letter: str) -> str:
    """
    What a person should look at twice in a number on an element with that letter; '' when nothing.

    >>> spice_doubt("1M", "R")
    "'1M' is 1 milliohm in SPICE (M is milli); write 1Meg if megohm is meant"
    >>> spice_doubt("2k2", "R")
    "'2k2' is 2000 in SPICE, which ignores what follows the suffix; write 2.2k if that is meant"
    """
    match = NUMBER.fullmatch(text)
    if not match or not match["tail"]:
        return ""
    scale, rest = _tail(match)
    if re.match(r"\d", rest) or re.fullmatch(r"r\d+", rest, re.IGNORECASE):
        return _digits_after_suffix(text, match["digits"], match["tail"])
    if letter == "R" and scale == "m":
        digits = match["digits"]
        return f"'{text}' is {digits} milliohm in SPICE (M is milli); write {digits}Meg if megohm is meant"
    if letter == "C" and match["tail"] == "F":
        return f"'{text}' is in femtofarad in SPICE (F is femto); leave the F out if farad is meant"
    if letter == "C" and text.rstrip("fF").endswith("M"):
        return f"'{text}' is in millifarad in SPICE (M is milli); write u if microfarad is meant"
    return ""


def _digits_after_suffix(text: str, digits: str, tail: str) -> str:
    letters = re.match(r"\D+", tail)
    suffix = letters[0] if letters else ""
    meant = f"{digits}.{tail[len(suffix):]}" + ("" if suffix.lower() == "r" else suffix)
    read = f"'{text}' is {spice_number(text):g} in SPICE, which ignores what follows the suffix"
    return f"{read}; write {meant} if that is meant"


def _tail(match: re.Match[str]) -> tuple[str, str]:
    parts = TAIL.fullmatch(match["tail"] or "")
    return ((parts["scale"] or "").lower(), parts["rest"]) if parts else ("", "")
