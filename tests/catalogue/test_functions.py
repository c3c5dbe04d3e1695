"""Every combinational type against its definition in arithmetic, over all inputs or thousands drawn by chance."""

from __future__ import annotations

import numpy as np
import pytest
from definitions import DEFINITIONS
from one_chip import Z, every, inputs_of, look

from kilter.parts.catalogue import catalogue_types

TRANSCEIVERS = {
    "74242": ("A{} B{}", 4, {"/GAB": 0, "GBA": 0}, {"/GAB": 1, "GBA": 1}, {"/GAB": 1, "GBA": 0}, True),
    "74243": ("A{} B{}", 4, {"/GAB": 0, "GBA": 0}, {"/GAB": 1, "GBA": 1}, {"/GAB": 1, "GBA": 0}, False),
    "74245": ("A{} B{}", 8, {"DIR": 1, "/G": 0}, {"DIR": 0, "/G": 0}, {"DIR": 1, "/G": 1}, False),
    "74623": ("A{} B{}", 8, {"GAB": 1, "/GBA": 1}, {"GAB": 0, "/GBA": 0}, {"GAB": 0, "/GBA": 1}, False),
    "74640": ("A{} B{}", 8, {"DIR": 1, "/G": 0}, {"DIR": 0, "/G": 0}, {"DIR": 1, "/G": 1}, True),
    "74645": ("A{} B{}", 8, {"DIR": 1, "/G": 0}, {"DIR": 0, "/G": 0}, {"DIR": 1, "/G": 1}, False),
}
"""Control pins for A to B, for B to A, and for nothing; whether it inverts. From memory."""


@pytest.mark.parametrize("key", sorted(DEFINITIONS))
def test_combinational_type_does_what_its_name_says(key: str) -> None:
    driven = every([name for name in inputs_of(key) if name != "/BI"])
    count = len(next(iter(driven.values())))
    shown = look(key, {**driven, "/BI": np.full(count, Z)})
    wanted = DEFINITIONS[key](driven)
    assert wanted
    for name, value in wanted.items():
        np.testing.assert_array_equal(shown[name], value, err_msg=f"{key} {name}")
    unsaid = set(shown) - set(wanted)
    assert unsaid <= ({"P", "G", "CN4"} if key == "74181" else set()), unsaid


@pytest.mark.parametrize("key", sorted(TRANSCEIVERS))
def test_transceiver_goes_the_way_it_is_told(key: str) -> None:
    _, width, ahead, back, off, inverted = TRANSCEIVERS[key]
    ones = every([str(place) for place in range(1, width + 1)])
    still = np.full(2**width, Z)
    for controls, source, target in ((ahead, "A", "B"), (back, "B", "A"), (off, "A", "B")):
        driven = {name: np.full(2**width, value) for name, value in controls.items()}
        driven |= {f"{source}{place}": value for place, value in ones.items()}
        driven |= {f"{target}{place}": still for place in ones}
        shown = look(key, driven)
        for place, value in ones.items():
            expected = still if controls is off else 1 - value if inverted else value
            np.testing.assert_array_equal(shown[f"{target}{place}"], expected, err_msg=f"{key} {target}{place}")


def test_every_type_without_storage_is_defined_here() -> None:
    combinational = {
        key for key, kind in catalogue_types().items()
        if kind.equations and not any(line.stores for line in kind.equations)
    }  # fmt: skip
    assert combinational == set(DEFINITIONS) | set(TRANSCEIVERS)


def test_blanking_from_outside_darkens_all_segments() -> None:
    driven = every([name for name in inputs_of("7447") if name != "/BI"])
    shown = look("7447", {**driven, "/BI": np.zeros_like(driven["A"])})
    assert all((shown[f"/S{letter}"] == Z).all() for letter in "ABCDEFG")
