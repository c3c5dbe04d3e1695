"""Data and code of the block kinds name each other, both ways; tables of chances add up."""

import pytest

from kilter.measure.quantities import quantities
from kilter.measure.tables import table
from kilter.parts.kinds import GIVES, part_kinds
from kilter.simulate.activity.acts import ACTS
from kilter.simulate.activity.block_kinds import block_kinds, effects
from kilter.simulate.activity.signal import LEVELS
from kilter.simulate.activity.warmth import HEATS

WORDS = table("block_kinds")["words"]


def test_every_act_has_its_kinds_and_every_kind_its_act():
    assert {kind.act for kind in block_kinds().values()} == set(ACTS)


def test_every_effect_is_used_by_some_part_and_every_mode_has_one_that_is_known():
    used = {mode.block for kind in part_kinds().values() for mode in kind.modes} - {""}
    used |= {GIVES for kind in part_kinds().values() if kind.each_value}
    assert used == set(effects())
    assert {mode.heat for kind in part_kinds().values() for mode in kind.modes} <= {"", *HEATS}
    assert {effect.level for effect in effects().values()} <= {"", *LEVELS}
    assert {act for effect in effects().values() for act in effect.only} <= set(ACTS)


def test_kinds_read_quantities_that_exist():
    assert {key for kind in block_kinds().values() for key in kind.reads} <= set(quantities())


@pytest.mark.parametrize("key", sorted(WORDS))
def test_chances_of_words_add_up_in_every_row(key):
    rows = {truth: row for truth, row in WORDS[key].items() if truth != "source"}
    assert set(rows) == set(HEATS if key == "heat" else LEVELS)
    for row in rows.values():
        assert set(row) <= set(quantities()[key].categories)
        assert sum(row.values()) == pytest.approx(1.0)


def test_every_table_names_its_source():
    kinds = table("block_kinds")
    entries = [*kinds["kinds"].values(), *kinds["effects"].values(), *kinds["words"].values()]
    entries += [kinds[name] for name in ("usual", "member", "rail", "bus", "size", "settling", "heating", "rise")]
    assert all(entry["source"] for entry in entries)
    assert all(kind.source for kind in part_kinds().values())
