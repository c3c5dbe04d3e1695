"""Numbers on diodes and transistors: JIS, Pro Electron, JEDEC. None of them tells the order of the leads."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from kilter.measure.tables import table
from kilter.parts.markings.interpretation import Interpretation, weight

JIS = re.compile(r"([1-5])S([A-Z])(\d{2,4})([A-Z]{0,2})")
JIS_DIODE = re.compile(r"1S(\d{2,4})([A-Z]?)")
SHORT_JIS = re.compile(r"([ABCDJK])(\d{2,4})([A-Z]{0,2})")
PRO_ELECTRON = re.compile(r"([ABCR])([ABCDEFKLNPQRSTUXYZ])([A-Z]?)(\d{2,4})(.*)")
ZENER = re.compile(r"[ /-]?([A-E])?(\d{1,3})(?:V(\d)?)?")
JEDEC = re.compile(r"([1-4])N(\d{2,5})([A-Z]{0,2})")
ORDER = "no numbering tells the order of the leads: find it before anything is replaced"
POLARITY = "this numbering does not tell NPN from PNP: look it up or test"


def semiconductor(text: str) -> Iterator[Interpretation]:
    """
    Every type number that a text may stand for.

    >>> for text in ("2SC1815", "C1815", "BC547B", "2N3904", "BZX79C5V1"):
    ...     print(next(semiconductor(text)).words)
    2SC1815: NPN transistor for high frequency
    2SC1815: NPN transistor for high frequency
    BC547B: silicon, small transistor for low frequency
    2N3904: transistor or thyristor
    BZX79C5V1: silicon, zener diode, 5.1 V ±5 %
    """
    capitals = re.sub(r"[\s_.-]", "", text.upper().replace("-", ""))
    yield from _jis(capitals)
    yield from _short_jis(capitals)
    yield from _pro_electron(capitals)
    yield from _jedec(capitals)
    yield from _zener_alone(capitals)


def _jis(text: str) -> Iterator[Interpretation]:
    data, found = _data("jis"), JIS.fullmatch(text)
    if found and found[2] in data["letters"]:
        yield _japanese(text, found[2], found[4], weight("transistor_number"), ())
    plain = JIS_DIODE.fullmatch(text)
    if plain:
        yield Interpretation("jis", "diode", f"{text}: diode", {"number": text}, weight("transistor_number"), (),
                             data["source"])  # fmt: skip


def _short_jis(text: str) -> Iterator[Interpretation]:
    """'C1815' for 2SC1815, and 'D965', which may be one of two schemes."""
    found = SHORT_JIS.fullmatch(text)
    if not found:
        return
    full = f"2S{text}"
    yield _japanese(full, found[1], found[3], weight("short_jis"), ("the '2S' is often not printed",))
    if found[1] in ("C", "D") and len(found[2]) == 3 and _data("pro_electron")["letters"].get(found[1]):
        yield from _european(f"B{text}", weight("short_other"), ("the 'B' would be left out",))


def _japanese(number: str, letter: str, suffix: str, times: float, reasons: tuple[str, ...]) -> Interpretation:
    data = _data("jis")
    entry = data["letters"][letter]
    fields = {"number": number} | ({"polarity": entry["polarity"]} if "polarity" in entry else {})
    if suffix and suffix in _data("gain_groups")["jis"]:
        fields["gain_group"] = suffix
        reasons = (*reasons, f"'{suffix}' may be a range of gain, which differs from type to type")
    told = (*reasons, ORDER) if entry["kind"] in ("transistor", "jfet", "thyristor") else reasons
    return Interpretation("jis", entry["kind"], f"{number}: {entry['words']}", fields, times, told, data["source"])


def _pro_electron(text: str) -> Iterator[Interpretation]:
    yield from _european(text, weight("transistor_number"), ())


def _european(text: str, times: float, reasons: tuple[str, ...]) -> Iterator[Interpretation]:
    data, found = _data("pro_electron"), PRO_ELECTRON.fullmatch(text)
    if not found or found[2] not in data["letters"] or found[1] not in data["materials"]:
        return
    entry, material = data["letters"][found[2]], data["materials"][found[1]]
    fields: dict[str, object] = {"number": text, "material": material}
    words, told = f"{text}: {material}, {entry['words']}", reasons
    tail = found[5]
    zener = ZENER.fullmatch(tail) if found[2] == "Z" and tail else None
    if zener:
        volts = float(f"{zener[2]}.{zener[3] or 0}")
        fields["volts"], words = volts, f"{words}, {volts:g} V"
        if zener[1]:
            share = float(_data("zener_tolerance")[zener[1]])
            fields["tolerance"], words = [-share, share], f"{words} ±{share * 100:g} %"
    elif tail and not re.fullmatch(r"[A-Z0-9/]{0,4}", tail):
        return
    elif tail in _data("gain_groups")["pro_electron"] and entry["kind"] == "transistor":
        fields["gain_group"] = tail
        told = (*told, f"'{tail}' may be a range of gain, which differs from type to type")
    if entry["kind"] == "transistor":
        told = (*told, POLARITY, ORDER)
    yield Interpretation("pro_electron", entry["kind"], words, fields, times, told, data["source"])


def _jedec(text: str) -> Iterator[Interpretation]:
    found, data = JEDEC.fullmatch(text), _data("jedec")
    if found:
        entry = data[found[1]]
        told = (POLARITY, ORDER) if found[1] in "23" else ()
        yield Interpretation("jedec", entry["kind"], f"{text}: {entry['words']}",
                             {"number": text, "junctions": int(found[1])}, weight("transistor_number"), told,
                             data["source"])  # fmt: skip


def _zener_alone(text: str) -> Iterator[Interpretation]:
    """'5V1' or 'C5V1', which is all that fits on a small zener diode."""
    found = re.fullmatch(r"([A-E])?(\d{1,3})V(\d)?", text)
    if found:
        volts = float(f"{found[2]}.{found[3] or 0}")
        fields: dict[str, object] = {"volts": volts}
        words = f"zener diode, {volts:g} V"
        if found[1]:
            share = float(_data("zener_tolerance")[found[1]])
            fields["tolerance"], words = [-share, share], f"{words} ±{share * 100:g} %"
        yield Interpretation("pro_electron", "zener", words, fields, weight("short_other"),
                             ("the voltage alone: the type is not told",), _data("pro_electron")["source"])  # fmt: skip


def _data(section: str) -> dict[str, Any]:
    found: dict[str, Any] = table("markings/semiconductors")[section]
    return found
