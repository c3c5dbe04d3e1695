"""
Pinouts against symbol libraries of other people (authorities/pinouts): supply pins, directions, gates, names.

The libraries use other names, so names are compared as patterns: every run of digits stands for one number. Which
pattern may stand for which is listed in same_names.txt, judged by a person; within one pair of patterns the numbers
must differ by the same amount at every pin, so that a swapped pair of pins is seen.
"""

from __future__ import annotations

import json
import re
from collections import Counter, defaultdict
from pathlib import Path

import pytest

from kilter.parts.catalogue import CatalogueType, catalogue_types

AUTHORITIES = Path(__file__).parents[2] / "authorities" / "pinouts"
SYMBOLS = json.loads((AUTHORITIES / "symbols.json").read_text("utf-8"))
TYPED = json.loads((AUTHORITIES / "typed.json").read_text("utf-8"))
SAME = set((Path(__file__).parent / "same_names.txt").read_text("utf-8").split())

ALLOWED = {
    "input": {"in", "both", "passive"},
    "output": {"out", "passive", "both"},
    "tri_state": {"out", "both"},
    "open_collector": {"out"},
    "open_emitter": {"out", "passive"},
    "bidirectional": {"both", "passive"},
    "power_in": {"power", "passive"},
    "power_out": {"out", "power", "passive"},
    "passive": {"passive", "in", "out", "both", "power"},
    "unspecified": {"passive", "in", "out", "both", "power"},
    "no_connect": {"none"},
    "free": {"none"},
}
"""Electrical type in the library to the directions of ours that agree with it."""

KNOWN_DIFFERENCES = {
    ("6809E", "39"): "the library calls this input an output",
    ("4046", "4"): "the library calls this output an input",
    ("8284", "16"): "the library calls one crystal pin an output",
}
OTHER_NAMES_FOR_POWER = {"VPP"}


def norm(name: str) -> str:
    """A name without overbars, signs and case."""
    return re.sub(r"[^A-Z0-9+<>=-]", "", name.upper())


def pattern(name: str) -> str:
    return re.sub(r"\d+", "#", name)


def numbers(name: str) -> list[int]:
    return [int(run) for run in re.findall(r"\d+", name)]


def is_unnamed(pins: dict[str, list]) -> bool:
    """Whether a symbol draws gates, whose pins need no names."""
    return sum(norm(name) == "" for name, *_ in pins.values()) > 2


def units_of(pins: dict[str, list]) -> dict[int, set[str]]:
    """Signal pins by the unit of the symbol, for symbols of several units."""
    found = defaultdict(set)
    for number, (_, kind, unit) in pins.items():
        if kind != "power_in" and unit:
            found[unit].add(number)
    return found if len(found) > 1 else {}


@pytest.mark.parametrize("key", sorted(SYMBOLS))
def test_directions_agree_with_the_library(key: str) -> None:
    ours, theirs = catalogue_types()[key].pins, SYMBOLS[key]["pins"]
    for number, pin in ours.items():
        if (key, number) in KNOWN_DIFFERENCES or (pin.role == "none" and number not in theirs):
            continue
        assert number in theirs, f"{key} has pin {number} ({pin.name}), the library has not"
        name, kind, _ = theirs[number]
        if pin.role == "none" and (norm(name) in ("NC", "") or kind == "no_connect"):
            continue
        if pin.name in OTHER_NAMES_FOR_POWER:
            assert norm(name) == pin.name
            continue
        assert pin.direction in ALLOWED[kind], f"{key} pin {number}: {pin.name} is {pin.direction}, {name} is {kind}"
    assert set(theirs) <= set(ours)


@pytest.mark.parametrize("key", sorted(key for key, row in SYMBOLS.items() if is_unnamed(row["pins"])))
def test_gates_join_the_pins_that_the_library_draws_together(key: str) -> None:
    kind, theirs = catalogue_types()[key], SYMBOLS[key]["pins"]
    if kind.equations:
        drawn = {frozenset(pins) for pins in (units_of(theirs) or whole(theirs)).values()}
        assert drawn == {frozenset(pins) for pins in joined_by_equations(kind)}
    else:
        for pins in units_of(theirs).values():
            leading = {kind.pins[number].name[0] for number in pins}
            assert len(leading) == 1, f"{key}: {sorted(pins)} belong together"


def whole(pins: dict[str, list]) -> dict[int, set[str]]:
    return {1: {number for number, (_, kind, _) in pins.items() if kind not in ("power_in", "no_connect")}}


def joined_by_equations(kind: CatalogueType) -> list[set[str]]:
    """Pin numbers that equations tie together."""
    numbers_of = {pin.name: number for number, pin in kind.pins.items()}
    groups: list[set[str]] = []
    for line in kind.equations:
        names = {line.target, *line.reads()}
        touching = [group for group in groups if group & names]
        groups = [group for group in groups if group not in touching] + [names.union(*touching)]
    return [{numbers_of[name] for name in group if name in numbers_of} for group in groups]


@pytest.mark.parametrize("key", sorted(key for key, row in SYMBOLS.items() if not is_unnamed(row["pins"])))
def test_names_agree_with_the_library(key: str) -> None:
    theirs = {number: norm(name) for number, (name, *_) in SYMBOLS[key]["pins"].items()}
    compare_names(key, theirs, bool(units_of(SYMBOLS[key]["pins"])))
    for pins in units_of(SYMBOLS[key]["pins"]).values():
        leading = {catalogue_types()[key].pins[number].name.strip("/")[0] for number in pins}
        assert len(leading) == 1, f"{key}: pins {sorted(pins)} are one unit there"


@pytest.mark.parametrize("key", sorted(TYPED))
def test_names_agree_with_the_typed_list(key: str) -> None:
    compare_names(key, {number: norm(name) for number, name in TYPED[key]["pins"].items()}, several=False)
    assert len(TYPED[key]["pins"]) == len(catalogue_types()[key].pins)


def compare_names(key: str, theirs: dict[str, str], several: bool) -> None:
    shifts: dict[str, set[int]] = defaultdict(set)
    for number, pin in catalogue_types()[key].pins.items():
        if pin.role == "none" or number not in theirs:
            continue
        ours = norm(pin.name)
        if several and ours[0].isdigit() and not theirs[number][:1].isdigit():
            ours = ours[1:]
        if ours == theirs[number]:
            continue
        pair = f"{pattern(ours)}={pattern(theirs[number])}"
        assert pair in SAME, f"{key} pin {number}: {ours} here, {theirs[number]} in the library"
        mine, other = numbers(ours), numbers(theirs[number])
        if other and (mine or len(ours) <= 2):
            shifts[f"{pair} {mine[:-1]}" if mine else "letters " + pattern(theirs[number])].add(
                (mine[-1] if mine else ord(ours[-1]) - ord("A")) - other[-1]
            )
    for pair, differences in shifts.items():
        assert len(differences) == 1, f"{key}: the numbers of {pair} do not run alike"


def test_what_is_said_to_be_checked_is_checked_here() -> None:
    said = Counter(kind.checked for kind in catalogue_types().values())
    assert said["authorities/pinouts/symbols.json"] == len(SYMBOLS)
    assert said["authorities/pinouts/typed.json"] == len(set(TYPED) - set(SYMBOLS))
    for key, kind in catalogue_types().items():
        assert (kind.checked == "memory") == (key not in SYMBOLS and key not in TYPED), key
    assert len(SYMBOLS) >= 200


def test_differences_that_are_passed_over_are_real() -> None:
    for key, number in KNOWN_DIFFERENCES:
        kind = SYMBOLS[key]["pins"][number][1]
        assert catalogue_types()[key].pins[number].direction not in ALLOWED[kind]
