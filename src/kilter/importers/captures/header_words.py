"""Words of a capture's header: units, names of channels, and the sample interval or rate it may tell."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

PREFIX = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "\u03bc": 1e-6, "m": 1e-3, "k": 1e3, "M": 1e6, "G": 1e9}
TIME = {"s": 1.0, "sec": 1.0, "secs": 1.0, "second": 1.0, "seconds": 1.0, "sekunde": 1.0, "sekunden": 1.0,
        "seconde": 1.0, "min": 60.0, "millisecond": 1e-3, "milliseconds": 1e-3, "microsecond": 1e-6,
        "microseconds": 1e-6,
        "nanosecond": 1e-9, "nanoseconds": 1e-9, "usec": 1e-6, "msec": 1e-3, "nsec": 1e-9}  # fmt: skip
VALUE = {"v": "V", "volt": "V", "volts": "V", "vdc": "V", "a": "A", "amp": "A", "amps": "A", "ampere": "A",
         "amperes": "A", "millivolt": "mV", "millivolts": "mV"}  # fmt: skip
TIME_NAMES = re.compile(
    r"(?i)(?:.*\b(?:time|zeit|temps|tiempo|tempo)(?:\b|_).*|t|x|x-?axis|x axis|xdata|seconds?|sec|s|timestamp|times)"
)
COUNT_NAMES = re.compile(r"(?i)(?:no\.?|nr\.?|#|n|index|sample|samples|sequence|point|points|idx|i|row|count)")
NUMBER = re.compile(r"[-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?")
QUANTITY = re.compile(rf"\s*\(?\s*({NUMBER.pattern})\s*([^\d\s)]*)\)?")
INTERVAL_KEYS = re.compile(
    r"(?i)(?:(?:sampling|sample|time|horizontal)[ _]*(?:interval|increment|period|resolution|step)|"
    r"x[ _]*incr?(?:ement)?|"
    r"increment|t[ _]*inc(?:rement|rval)?|interval|delta[ _]?t|dt|sampling)\b"
)
RATE_KEYS = re.compile(r"(?i)(?:sampl(?:e|ing)[ _]*(?:rate|freq(?:uency)?)|samplerate|rate|fs)\b")
START_KEYS = re.compile(r"(?i)(?:start|x[ _]*(?:zero|origin)|first[ _]*point|t0|start[ _]*time)\b")
RATE_UNITS = re.compile(r"(?i)(?:[kmg]?(?:s(?:a|ps)?(?:/s(?:ec)?)?|pts/s|hz)|sps)")


@dataclass(frozen=True, slots=True)
class Unit:
    """A written unit: what it measures ('time', 'V', 'A', '' unknown) and its factor to SI."""

    what: str
    factor: float = 1.0


def unit_of(text: str) -> Unit | None:
    """
    The unit of a header word, None where it names none.

    >>> unit_of("mV"), unit_of("Time (us)"), unit_of("CH1 [V]"), unit_of("Second"), unit_of("CH1")
    (Unit(what='V', factor=0.001), Unit(what='time', factor=1e-06), Unit(what='V', factor=1.0), \
Unit(what='time', factor=1.0), None)
    """
    words = [text.strip(), *re.findall(r"[(\[{]\s*([^()\[\]{}]*?)\s*[)\]}]", text)]
    words += re.findall(r"(?:in|/|_|\s)\s*([A-Za-zµμ]+)\s*$", text.strip())
    for word in reversed(words):
        found = _unit_word(word.strip().strip("\"'"))
        if found:
            return found
    return None


def _unit_word(word: str) -> Unit | None:
    if word.lower() in TIME:
        return Unit("time", TIME[word.lower()])
    if word.lower() in VALUE:
        plain = VALUE[word.lower()]
        return Unit(plain[-1], 1e-3 if plain.startswith("m") else 1.0)
    if len(word) == 2 and word[0] in PREFIX and word[1] in "sSVvA":
        return Unit("time" if word[1] in "sS" else word[1].upper(), PREFIX[word[0]])
    return None


def is_time_name(text: str) -> bool:
    """
    Whether a heading names the time column.

    >>> [is_time_name(word) for word in ("Time (s)", "X", "CH1", "x-axis", "Source")]
    [True, True, False, True, False]
    """
    bare = re.sub(r"[(\[{].*", "", text).strip().strip("\"'")
    return bool(TIME_NAMES.fullmatch(bare or text.strip()))


def is_count_name(text: str) -> bool:
    """Whether a heading names a running number."""
    return bool(COUNT_NAMES.fullmatch(text.strip().strip("\"'")))


def number_of(text: str) -> tuple[float, str] | None:
    """
    The number and what follows it; None where the word is no number.

    >>> number_of(" 1.00E-04 s"), number_of("250MSa/s"), number_of("CH1")
    ((0.0001, 's'), (250.0, 'MSa/s'), None)
    """
    found = QUANTITY.match(re.sub(r"^[A-Za-z]{1,8} ?\d?:", "", text.strip().strip("\"'")))
    if not found:
        return None
    return float(found[1].replace(",", ".")), found[2]


@dataclass(frozen=True, slots=True)
class TimeTold:
    """What the header says of time: interval and start [s], and doubts."""

    interval: float | None = None
    start: float | None = None
    doubts: tuple[str, ...] = ()


def time_told(lines: Sequence[Sequence[str]]) -> TimeTold:
    """
    The sample interval that a header tells, from 'key, value [, unit]' lines or from a value below its heading.

    Args:
        lines: Cells of the header lines.

    >>> time_told([["X", "CH1", "Start", "Increment"], ["Sequence", "Volt", "-5.88E-02", "1.00E-04"]])
    TimeTold(interval=0.0001, start=-0.0588, doubts=())
    >>> time_told([["Sample Rate: 2 mHz"]]).interval is None
    True
    """
    interval: float | None = None
    start: float | None = None
    doubts: list[str] = []
    for row, cells in enumerate(lines):
        for column, cell in enumerate(cells):
            key, written = _key_and_value(cell, lines, row, column)
            if not written or not key:
                continue
            if START_KEYS.fullmatch(key) and start is None:
                start = _seconds(written)
            elif INTERVAL_KEYS.fullmatch(key) and interval is None:
                interval = _positive(_seconds(written))
            elif RATE_KEYS.fullmatch(key) and interval is None:
                interval = _from_rate(written, doubts)
    return TimeTold(interval, start, tuple(dict.fromkeys(doubts)))


def _key_and_value(cell: str, lines: Sequence[Sequence[str]], row: int, column: int) -> tuple[str, str]:
    """A key and the text of its value: in the same cell, to the right, or below."""
    inside = re.fullmatch(r"#?\s*([A-Za-z][\w .\-]*?)\s*(?:\(([^)]*)\))?\s*(?:[:=]\s*(.*))?", cell.strip().strip("\"'"))
    if not inside:
        return "", ""
    key, bracket, value = inside[1].strip(), inside[2] or "", (inside[3] or "").strip()
    if not value:
        right = [one.strip() for one in lines[row][column + 1 : column + 3]]
        if right and number_of(right[0]):
            value = " ".join(right[:2]) if len(right) > 1 and not number_of(right[1]) else right[0]
        elif row + 1 < len(lines) and column < len(lines[row + 1]):
            value = lines[row + 1][column]
    found = number_of(value)
    if found and not found[1]:
        rest = value[value.find(str(found[0])[-1:]) + 1 :].split()
        value = f"{value.split()[0]} {bracket or (rest[-1] if rest else '')}".strip()
    return key, value if found else ""


def _seconds(text: str) -> float | None:
    found = number_of(text)
    if found is None:
        return None
    unit = _unit_word(found[1])
    return found[0] * (unit.factor if unit and unit.what == "time" else 1.0)


def _positive(value: float | None) -> float | None:
    return value if value is not None and value > 0 else None


def _from_rate(text: str, doubts: list[str]) -> float | None:
    found = number_of(text)
    if found is None or found[0] <= 0:
        return None
    number, unit = found
    if unit.startswith("m") and unit.lower().endswith("hz"):
        doubts.append(f"The header tells a sample rate of '{text.strip()}': milli or mega? It is not used.")
        return None
    if unit and not RATE_UNITS.fullmatch(unit):
        return None
    return 1.0 / (number * {"k": 1e3, "m": 1e6, "g": 1e9}.get(unit[:1].lower(), 1.0))
