"""Part kinds data: complete, consistent with itself and with other data; anchored where an anchor is known."""

import pytest

from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.parts.kinds import modes_of, part_kind, part_kinds
from kilter.parts.signs import sign_chances
from kilter.records.part import Part

KINDS = sorted(part_kinds())


@pytest.mark.parametrize("key", KINDS)
def test_odds_are_shared_out_fully(key):
    """Whatever pins a part has, the odds of its modes add up to those of its kind."""
    kind = part_kind(key)
    for pins in ({}, {"1": "a", "2": "b"}, dict.fromkeys("abcde", "n")):
        assert sum(mode.odds for mode in modes_of(Part("P1", key, pins))) == pytest.approx(kind.odds)


@pytest.mark.parametrize("key", KINDS)
def test_modes_are_distinct_and_change_known_pins(key):
    kind = part_kind(key)
    keys = [mode.key for mode in kind.modes]
    assert len(set(keys)) == len(keys)
    pins = {pin for mode in kind.modes for change in mode.circuit for pin in change.pins}
    assert pins <= (set(kind.pins) or {"1", "2"})


@pytest.mark.parametrize("key", KINDS)
def test_every_mode_is_felt_somewhere(key):
    """A mode that no circuit, block, hand or eye could notice would be a hidden 'nothing wrong'."""
    assert all(mode.circuit or mode.block for mode in part_kind(key).modes)


@pytest.mark.parametrize("key", KINDS)
def test_signs_are_words_of_the_look_and_leave_room_for_clean(key):
    kind, words = part_kind(key), set(quantity("look").categories)
    for mode in (None, *kind.modes):
        chances = sign_chances(kind, mode)
        assert set(chances) <= words
        assert sum(chances.values()) == pytest.approx(1.0)
        assert min(chances.values()) >= 0.0


def test_a_sign_speaks_for_the_mode_that_makes_it():
    """P(sign | mode) = own sign, else that of a healthy old part: worked by hand for a bulged, shorted electrolytic."""
    kind = part_kind("electrolytic")
    short = next(mode for mode in kind.modes if mode.key == "short")
    quiet = 1.0 - sum(short.signs.values())
    by_hand = short.signs["bulged"] + quiet * kind.signs["bulged"]
    assert sign_chances(kind, short)["bulged"] == pytest.approx(by_hand)


def test_electrolytic_against_small_logic_chip():
    """
    MIL-HDBK-217F, parts count, ground benign: aluminium electrolytic .024 to .029, small bipolar logic .0036 (figures
    read second-hand): a ratio of 6.7 to 8. Judgement may move it, not turn it round.
    """
    ratio = part_kind("electrolytic").odds / part_kind("logic").odds
    assert 6.7 / 2 < ratio < 8.0 * 2


def test_order_of_failure_modes_follows_the_handbook_where_age_does_not_change_it():
    """MIL-HDBK-338B (second-hand): film resistor open, value, short; tantalum and diode short before open."""
    odds = {key: {mode.key: mode.odds for mode in part_kind(key).modes} for key in ("resistor", "tantalum", "diode")}
    assert odds["resistor"]["open"] > odds["resistor"]["high"] + odds["resistor"]["low"] > odds["resistor"]["short"]
    assert odds["tantalum"]["short"] > odds["tantalum"]["open"] > odds["tantalum"]["low"]
    assert odds["diode"]["short"] > odds["diode"]["open"] > odds["diode"]["leak"]


def test_unknown_kind_is_refused_with_a_list():
    with pytest.raises(BadInput) as caught:
        modes_of(Part("Q9", "flux capacitor", {}))
    assert "Q9" in caught.value.doing
    assert "electrolytic" in caught.value.allowed
