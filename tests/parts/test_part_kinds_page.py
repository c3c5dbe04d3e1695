"""The page about part kinds says what the data say."""

from math import isnan
from pathlib import Path

import pytest

from kilter.parts.kinds import part_kinds
from kilter.simulate.activity.block_kinds import block_kinds, effects

PAGE = (Path(__file__).parents[2] / "docs" / "part-kinds.md").read_text("utf-8")
ROWS = [tuple(cell.strip() for cell in line.strip("| ").split("|")) for line in PAGE.splitlines() if line[:1] == "|"]


def row_of(key, columns):
    found = [row for row in ROWS if row[0] == key and len(row) == columns]
    assert len(found) == 1, f"{key} should have one row of {columns} columns in docs/part-kinds.md"
    return found[0]


@pytest.mark.parametrize("key", sorted(part_kinds()))
def test_part_kind(key):
    kind = part_kinds()[key]
    shares = [f"{mode.key} {mode.odds / kind.odds:.2f}" for mode in kind.modes]
    shares += [f"open PIN {kind.each_pin_open:.2f}"] if kind.each_pin_open else []
    shares += [f"gives N {kind.each_value:.2f}"] if kind.each_value else []
    assert row_of(key, 4)[1:] == (kind.words, f"{kind.odds:g}", ", ".join(shares))


@pytest.mark.parametrize("key", sorted(block_kinds()))
def test_block_kind(key):
    kind, row = block_kinds()[key], row_of(key, 7)
    assert row[1] == kind.words
    assert row[4] == (", ".join(kind.must) or "-")
    assert row[5] == (
        ", ".join(name if isnan(value) else f"{name} ({value:g})" for name, value in kind.numbers.items()) or "-"
    )
    assert row[6] == ", ".join(kind.reads)


@pytest.mark.parametrize("key", sorted(effects()))
def test_effect(key):
    assert row_of(key, 2)[1]
