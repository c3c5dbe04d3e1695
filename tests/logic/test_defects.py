"""Names of faults: every mode of a part can be looked up, and a stuck pin is the same thing to both engines."""

import pytest
from test_four_value import NAND_BOARD, ROWS

from kilter.measure.errors import BadInput
from kilter.simulate.logic.defects import Bridge, Dead, PinOpen, PinStuck, defect, modes, stuck_lines
from kilter.simulate.logic.families import families
from kilter.simulate.logic.four_value import trace
from kilter.simulate.logic.inject import Injector
from kilter.simulate.logic.lanes import pack, unpack
from kilter.simulate.logic.levels import levelled


def test_every_mode_names_a_defect_of_its_own():
    for part in ("U1", "U2"):
        found = [defect(NAND_BOARD, part, mode) for mode in modes(NAND_BOARD, part)]
        assert len(set(found)) == len(found)


def test_names_say_what_they_mean():
    assert defect(NAND_BOARD, "U1", "pin 14 open") == PinOpen("U1", "14")
    assert defect(NAND_BOARD, "U1", "pin 5 stuck_low") == PinStuck("U1", "5", "0")
    assert defect(NAND_BOARD, "U2", "dead_floating") == Dead("U2", "Z")
    assert defect(NAND_BOARD, "U1", "pins 2 3 bridge_first") == Bridge("b", "m", "first")


def test_pins_on_one_net_have_no_bridge():
    assert "pins 3 4 bridge_and" not in modes(NAND_BOARD, "U1")
    with pytest.raises(BadInput):
        defect(NAND_BOARD, "U1", "pins 3 4 bridge_and")


@pytest.mark.parametrize("mode", ["pin 9 open", "pin 14 stuck_low", "pins 1 2 joined_and", "melted", ""])
def test_a_mode_that_is_not_there_is_refused_with_those_that_are(mode):
    with pytest.raises(BadInput, match="pin 5 stuck_low"):
        defect(NAND_BOARD, "U1", mode)


def test_a_part_that_is_not_there_is_refused_with_those_that_are():
    with pytest.raises(BadInput, match="U1, U2"):
        defect(NAND_BOARD, "U9", "dead_low")


@pytest.mark.parametrize("part", ["U1", "U2"])
def test_a_stuck_pin_is_the_same_to_both_engines(part):
    stuck = [one for mode in modes(NAND_BOARD, part) if isinstance(one := defect(NAND_BOARD, part, mode), PinStuck)]
    four = trace(NAND_BOARD, [ROWS], [[one] for one in stuck])
    two = Injector(levelled(NAND_BOARD), pack(ROWS))
    for number, one in enumerate(stuck):
        assert (four.codes[number, 0] == unpack(two.outputs(stuck_lines(NAND_BOARD, one)), len(ROWS))).all()
    assert len(stuck) == {"U1": 12, "U2": 4}[part]


def test_every_family_says_where_its_numbers_come_from():
    for family in families().values():
        assert family.source
        assert family.kind in ("standard", "handbook", "sheet", "judgement", "memory")
        assert {family.open_input, family.unsupplied} <= set("01ZX")
        assert family.open_input != "Z"
