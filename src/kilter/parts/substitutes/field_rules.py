"""Rules that compare one field of both parts (data/substitutes/rules.toml)."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from kilter.measure.tables import table
from kilter.parts.substitutes.finding import CONDITIONS, FITS, NOT, UNKNOWN, Finding, lacking
from kilter.parts.substitutes.part_data import PartData, shown

SLACK = 1e-9
"""Rounding of floats."""


def field_findings(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    """One finding for every rule of the kind that belongs to this use."""
    for row in table("substitutes/rules")[wanted.rules]:
        yield from _finding(row, wanted, offered)


def _finding(row: Mapping[str, Any], wanted: PartData, offered: PartData) -> Iterator[Finding]:
    rule, name, why = row["rule"], row["field"], row["why"]
    uses = row.get("uses")
    if uses is not None:
        if not wanted.known("use"):
            told = f"whether '{name}' matters depends on the use, which is not said"
            yield Finding(rule, UNKNOWN, told, why, "wanted use")
            return
        if wanted.fields["use"] not in uses:
            return
    if wanted.of_no_matter(name):
        yield Finding(rule, FITS, f"'{name}' was said to be of no matter")
    elif not wanted.known(name):
        yield lacking(rule, "wanted", name, why)
    elif row["test"] == "if_wanted" and not wanted.fields[name]:
        yield Finding(rule, FITS, f"'{name}' is not asked for")
    elif not offered.known(name):
        yield lacking(rule, "offered", name, why)
    else:
        verdict, how = TESTS[row["test"]](row, wanted.fields[name], offered.fields[name])
        if verdict == NOT and row.get("otherwise") == "conditions":
            verdict = CONDITIONS
        told = f"wanted {shown(name, wanted.fields[name])}, offered {shown(name, offered.fields[name])}{how}"
        yield Finding(rule, verdict, told, "" if verdict == FITS else why)


Judged = tuple[str, str]


def _at_least(row: Mapping[str, Any], wanted: Any, offered: Any) -> Judged:
    if abs(offered) < abs(wanted) * (1 - SLACK):
        return NOT, ": too little"
    more = row.get("more")
    if more and offered > more * wanted:
        return CONDITIONS, f": more than {more:g} times"
    return FITS, ""


def _at_most(_: Mapping[str, Any], wanted: Any, offered: Any) -> Judged:
    return (FITS, "") if abs(offered) <= abs(wanted) * (1 + SLACK) else (NOT, ": too much")


def _same(row: Mapping[str, Any], wanted: Any, offered: Any) -> Judged:
    if isinstance(wanted, (int, float)) and not isinstance(wanted, bool):
        alike = abs(offered - wanted) <= row.get("within", SLACK) * abs(wanted)
    else:
        alike = _plain(wanted) == _plain(offered)
    return (FITS, "") if alike else (NOT, ": not the same")


def _plain(value: Any) -> str:
    return "".join(str(value).casefold().replace("-", " ").split())


def _band(row: Mapping[str, Any], wanted: Any, offered: Any) -> Judged:
    ratio = offered / wanted if wanted else float("inf")
    told = f" ({ratio:.3g} times)"
    if not row["low"] * (1 - SLACK) <= ratio <= row["high"] * (1 + SLACK):
        return NOT, told
    within = row["soft_low"] * (1 - SLACK) <= ratio <= row["soft_high"] * (1 + SLACK)
    return (FITS, told) if within else (CONDITIONS, told)


def _if_wanted(_: Mapping[str, Any], wanted: Any, offered: Any) -> Judged:
    return (FITS, "") if not wanted or offered else (NOT, ": asked for and not so")


TESTS: Mapping[str, Callable[[Mapping[str, Any], Any, Any], Judged]] = {
    "at_least": _at_least, "at_most": _at_most, "same": _same, "band": _band, "if_wanted": _if_wanted,
}  # fmt: skip
