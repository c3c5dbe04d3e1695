"""Pairs judged by hand; a field taken away never leaves a fit; more of what is asked never hurts."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from kilter.importers.part_data import part_data_of
from kilter.importers.toml_tables import Table
from kilter.measure.tables import table
from kilter.parts.substitutes import ANY, CONDITIONS, FITS, VERDICTS, Comparison, judge

PAIRS = tomllib.loads((Path(__file__).parent / "pairs.toml").read_text("utf-8"))
CHANGES = [(kind, change) for kind, pair in PAIRS.items() for change in pair["changes"]]
NOT_ASKED = {"shunt", "motional", "allowed_ppm", "bipolar", "matched", "family"}
"""Fields that only matter where another one says so."""


def part(values: dict[str, Any], side: str) -> Any:
    return part_data_of(Table(values, "pairs.toml", "Cannot read the pair"), side)


def compared(wanted: dict[str, Any], offered: dict[str, Any]) -> Comparison:
    return judge(part(wanted, "wanted"), part(offered, "offered"))


@pytest.mark.parametrize("kind", PAIRS)
def test_the_pair_itself(kind: str) -> None:
    pair = PAIRS[kind]
    found = compared(pair["wanted"], pair["offered"])
    assert found.verdict == pair["verdict"], found.findings


@pytest.mark.parametrize(("kind", "change"), CHANGES, ids=[f"{kind}-{one[1]}-{one[2]}" for kind, one in CHANGES])
def test_one_change(kind: str, change: list[Any]) -> None:
    side, name, value, verdict, rule = change
    pair = {key: dict(PAIRS[kind][key]) for key in ("wanted", "offered")}
    pair[side][name] = value
    found = compared(pair["wanted"], pair["offered"])
    assert found.verdict == verdict, found.findings
    assert any(one.rule == rule and one.verdict == verdict for one in found.findings), found.findings


TAKEN = [(kind, side, name) for kind, pair in PAIRS.items() for side in ("wanted", "offered") for name in pair[side]
         if name != "kind" and name not in NOT_ASKED]  # fmt: skip


@pytest.mark.parametrize(("kind", "side", "name"), TAKEN)
def test_a_field_that_is_missing_never_leaves_a_fit(kind: str, side: str, name: str) -> None:
    """Two may be missing: a rail that nobody measured, and the use of a part whose kind says where it is."""
    pair = {key: dict(PAIRS[kind][key]) for key in ("wanted", "offered")}
    del pair[side][name]
    found = compared(pair["wanted"], pair["offered"])
    if (kind, name) in {("electrolytic", "rail"), ("suppression", "use")}:
        return
    assert found.verdict not in (FITS, CONDITIONS), found.findings
    assert found.verdict != "unknown" or any(name in one for one in found.missing) or name == "number"


LARGER = [
    (kind, row["rule"], row["field"])
    for kind, pair in PAIRS.items()
    for row in table("substitutes/rules")["fet" if kind == "mosfet" else kind]
    if row["test"] == "at_least" and "more" not in row and row["field"] in {*pair["offered"]} & {*pair["wanted"]}
]


@pytest.mark.parametrize(("kind", "rule", "name"), LARGER)
@pytest.mark.parametrize("factor", [1.0, 1.5, 10.0])
def test_more_of_what_is_asked_is_never_worse(kind: str, rule: str, name: str, factor: float) -> None:
    wanted, offered = part(PAIRS[kind]["wanted"], "wanted"), part(PAIRS[kind]["offered"], "offered")
    more = type(offered)(offered.kind, {**offered.fields, name: offered.fields[name] * factor})
    order = VERDICTS.index
    assert order(judge(wanted, more).verdict) <= order(judge(wanted, offered).verdict)
    less = type(offered)(offered.kind, {**offered.fields, name: wanted.fields[name] * 0.9})
    assert rule in judge(wanted, less).failing


def test_a_part_in_place_of_itself_fits_by_every_field_rule() -> None:
    """The strictest pair of all: the same data on both sides, as far as the rules compare fields."""
    for kind, pair in PAIRS.items():
        offered = part(pair["offered"], "offered")
        same = type(offered)(offered.kind, offered.fields)
        found = judge(same, offered)
        assert found.failing == (), (kind, found.findings)


def test_any_is_refused_where_it_would_hide_a_hazard() -> None:
    for kind, name in (("electrolytic", "volts"), ("suppression", "safety_class"), ("fuse", "current")):
        with pytest.raises(Exception, match="Leave it out"):
            part({**PAIRS[kind]["wanted"], name: ANY}, "wanted")
