"""The catalogue as a whole: counts, and that every type hangs together."""

from __future__ import annotations

from collections import Counter

import pytest

from kilter.measure.tables import table
from kilter.parts.catalogue import catalogue_types
from kilter.parts.catalogue.read import other_numbers
from kilter.parts.kinds import part_kinds
from kilter.simulate.logic.families import families

TYPES = catalogue_types()
DIGITAL = {key for key, kind in TYPES.items() if kind.technology and kind.pins}


def test_how_many_types_there_are() -> None:
    series_74 = {key for key in TYPES if key.startswith("74") and len(key) > 3}
    series_4000 = {key for key, kind in TYPES.items() if kind.technology == "cmos"}
    assert len(series_74) >= 90
    assert len(series_4000) >= 30
    assert len(series_74 | series_4000) >= 120
    assert len(TYPES) >= 250


@pytest.mark.parametrize("key", sorted(TYPES))
def test_pins_are_numbered_through_and_named_once(key: str) -> None:
    kind = TYPES[key]
    names = Counter(pin.name for pin in kind.pins.values() if pin.role != "none")
    assert not [name for name, times in names.items() if times > 1]
    assert all(pin.number == number for number, pin in kind.pins.items())
    if kind.function != "oscillator":
        assert list(kind.pins) == [str(place) for place in range(1, len(kind.pins) + 1)]
    assert kind.pins or kind.order_varies or kind.words.split(";")[0], key


@pytest.mark.parametrize("key", sorted(DIGITAL))
def test_digital_types_have_supply_pins_and_outputs(key: str) -> None:
    kind = TYPES[key]
    assert len(kind.pins) % 2 == 0
    assert kind.with_role("supply")
    assert kind.with_role("ground")
    assert any(pin.may_drive for pin in kind.pins.values())


@pytest.mark.parametrize("key", sorted(key for key in DIGITAL if TYPES[key].equations))
def test_equations_use_every_pin_and_drive_every_output(key: str) -> None:
    kind = TYPES[key]
    targets = [line.target for line in kind.equations]
    read = {name for line in kind.equations for name in line.reads()}
    assert len(set(targets)) == len(targets)
    signals = {pin.name for pin in kind.pins.values() if pin.direction not in ("power", "none")}
    assert read | set(targets) >= signals, "a pin that nothing reads or drives"
    assert (read | set(targets)) - signals == set(targets) - signals, "a name that nothing drives"
    assert {pin.name for pin in kind.pins.values() if pin.direction in ("out", "both")} == set(targets) & signals


def test_memories_have_as_many_address_and_data_pins_as_their_organisation_asks() -> None:
    for key, kind in TYPES.items():
        if kind.organisation is None:
            continue
        words, bits = kind.organisation
        address = len(kind.with_role("address")) * (2 if kind.function == "dynamic_ram" else 1)
        if key != "4416":  # its columns use fewer pins than its rows; from memory
            assert 2**address == words, key
        assert len(kind.with_role("data", "data_out")) == bits, key


def test_tables_fit_each_other() -> None:
    kinds, functions, roles = part_kinds(), table("catalogue/functions"), table("catalogue/roles")
    assert set(functions.values()) <= set(kinds)
    assert {kind.technology for kind in TYPES.values()} - {""} <= set(families())
    assert {pin.role for kind in TYPES.values() for pin in kind.pins.values()} <= set(roles)
    assert set(other_numbers().values()) <= set(TYPES)
    assert not set(other_numbers()) & set(TYPES) - set(other_numbers().values())


def test_three_supplies_carry_a_caution() -> None:
    for kind in TYPES.values():
        if "VBB" in kind.by_name:
            assert "VBB first" in kind.caution, kind.key
            assert kind.volts["VBB"] < 0


def test_transistors_never_tell_their_leads() -> None:
    for kind in TYPES.values():
        if kind.function in ("npn", "pnp", "jfet", "mosfet"):
            assert kind.order_varies
            assert not kind.pins


def test_fan_out_of_families_follows_from_their_currents() -> None:
    """Loads of the same family; LS 20, plain 10: common handbook figures, from memory."""
    rows = table("catalogue/families")

    def loads(one: str, other: str) -> int:
        a, b = rows[one], rows[other]
        return int(min(a["out_low_ma"] / b["in_low_ma"], a["out_high_ma"] / b["in_high_ma"]) + 1e-9)

    assert loads("74LS", "74LS") == 20
    assert loads("74", "74") == 10
    assert loads("74LS", "74") == 5
    assert rows["74LS"]["high_out"] < rows["74HC"]["high_in"] < rows["74HCT"]["high_out"]
