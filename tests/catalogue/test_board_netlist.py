"""
The logic of two small boards of our own: an address decoder with memories on a bus, and a clock divider with a lamp.

What the boards must do is worked out here by hand from what they are for.
"""

from __future__ import annotations

import numpy as np
import pytest

from kilter.circuit.board import Board, Rail
from kilter.importers.load import load_board
from kilter.measure.errors import BadInput
from kilter.records.part import Part
from kilter.simulate.logic import defect, trace
from kilter.simulate.logic.board_netlist import logic_netlist

FIVE = Rail("+5V", "+5V", 5.0, 4.75, 5.25)
NOBODY, UNKNOWN = "Z", "X"


def part(ref: str, kind: str, value: str, nets: str, number: float | None = None) -> Part:
    """A part from the nets of its pins, from 1 upwards; a dot is an unconnected pin."""
    pins = {str(place): net for place, net in enumerate(nets.split(), 1) if net != "."}
    return Part(ref, kind, pins, value, number)


def decoder_board(*extra: Part, rom: str = "27C64") -> Board:
    """A15..A13 choose one of eight pages: page 7 is a ROM, page 0 a RAM; the processor's lines come from a plug."""
    bus = "D0 D1 D2 0 D3 D4 D5 D6 D7"
    parts = [
        part("J1", "connector", "BUS", "A13 A14 A15 MREQ RD WR0 D0 D1"),
        part("R9", "resistor", "33", "WR0 WR", 33.0),
        part("U1", "logic", "74LS138N", "A13 A14 A15 MREQ 0 +5V ROMCE 0 . . . . . . RAMCS +5V"),
        part("U2", "rom", rom, f"+5V A12 A7 A6 A5 A4 A3 A2 A1 A0 {bus} ROMCE A10 RD A11 A9 A8 . +5V +5V"),
        part("U3", "memory", "6264-15", f". A12 A7 A6 A5 A4 A3 A2 A1 A0 {bus} RAMCS A10 RD A11 A9 A8 +5V WR +5V"),
        part("R1", "resistor", "4k7", "+5V D7", 4700.0),
        *extra,
    ]
    return Board("decoder", {one.ref: one for one in parts}, rails={"+5V": FIVE})


def drive(netlist, steps, faults=(), nets=()):
    """Words of some nets for steps of input values by name; inputs that are not named stay low."""
    rows = [
        [[dict.fromkeys(netlist.inputs, 0).get(name, 0) | step.get(name, 0) for name in netlist.inputs]]
        for step in steps
    ]
    shown = trace(netlist, np.array(rows), [faults], nets=list(nets))
    return [[str(shown.words(net)[0, step, 0]) for net in nets] for step in range(len(steps))]


def page(number: int, **more: int) -> dict[str, int]:
    return {f"A{13 + place}": (number >> place) & 1 for place in range(3)} | more


def test_the_decoder_chooses_one_page_and_only_while_memory_is_asked() -> None:
    netlist = logic_netlist(decoder_board())
    shown = drive(netlist, [page(7), page(0), page(3), page(7, MREQ=1)], nets=["ROMCE", "RAMCS"])
    assert shown == [["0", "1"], ["1", "0"], ["1", "1"], ["1", "1"]]


def test_a_memory_that_is_not_read_lets_go_of_the_bus_and_one_that_is_may_say_anything() -> None:
    netlist = logic_netlist(decoder_board())
    shown = drive(netlist, [page(7), page(7, RD=1), page(3)], nets=["D0", "D7"])
    assert shown == [[UNKNOWN, UNKNOWN], [NOBODY, "1"], [NOBODY, "1"]], "D7 has a resistor to the supply"


def test_pins_faults_and_supplies_keep_their_part() -> None:
    netlist = logic_netlist(decoder_board())
    stuck = defect(netlist, "U1", "pin 7 stuck_high")
    assert drive(netlist, [page(7)], [stuck], ["ROMCE", "D0"]) == [["1", NOBODY]]
    assert netlist.chips["U1"].supply == ("16",)
    assert netlist.chips["U1"].ground == ("8",)
    assert netlist.chips["U1"].family == "ttl"
    opened = defect(netlist, "U1", "pin 16 open")
    assert drive(netlist, [page(3)], [opened], ["ROMCE"]) == [[UNKNOWN]]


def test_a_small_resistor_joins_two_signals_and_a_plug_brings_inputs() -> None:
    netlist = logic_netlist(decoder_board())
    assert "WR0" not in netlist.nets, "it is one net with WR, under the name that comes first"
    assert {"A13", "A14", "A15", "MREQ", "RD", "WR"} <= set(netlist.inputs)
    assert netlist.pulls == {"D7": "1"}


def test_an_unknown_chip_makes_its_nets_unknown_and_never_fine() -> None:
    odd = part("U9", "custom", "ULA-17", "MREQ ROMCE +5V 0 X1 .")
    netlist = logic_netlist(decoder_board(odd))
    assert drive(netlist, [page(3)], nets=["ROMCE", "X1"]) == [[UNKNOWN, UNKNOWN]]
    assert drive(netlist, [page(0)], nets=["RAMCS"]) == [[UNKNOWN]], "MREQ may be anything now"


def test_a_type_can_be_said_where_the_value_does_not_tell_it() -> None:
    board = decoder_board(rom="GAME-1")
    assert drive(logic_netlist(board), [page(3)], nets=["D0"]) == [[UNKNOWN]]
    assert drive(logic_netlist(board, types={"U2": "2764"}), [page(3)], nets=["D0"]) == [[NOBODY]]
    with pytest.raises(BadInput, match="a type of the catalogue"):
        logic_netlist(board, types={"U2": "GAME-1"})


def divider_board() -> Board:
    """An oscillator can, a counter by sixteen with a reset from a switch, and an inverter with a lamp."""
    parts = [
        part("X1", "oscillator", "OSC_DIP14", ". . . . . . 0 CLK . . . . . +5V"),
        part("SW1", "switch", "RESET", "RES 0"),
        part("R1", "resistor", "10k", "+5V RES", 1e4),
        part("C1", "ceramic", "100n", "RES 0", 1e-7),
        part("U1", "counter", "74HC161", "RES CLK 0 0 0 0 +5V 0 +5V +5V Q8 Q4 Q2 Q1 CARRY +5V"),
        part("U2", "logic", "74HC04", "Q8 LAMP . . . . 0 . . . . . . +5V"),
        part("U3", "chip", "TL072", "AUDIO LAMP 0 NEG . . . POS"),
        part("R2", "resistor", "330", "LAMP LED", 330.0),
        part("D1", "led", "red", "LED 0"),
    ]
    return Board("divider", {one.ref: one for one in parts}, rails={"+5V": FIVE})


def test_the_divider_counts_after_its_reset() -> None:
    netlist = logic_netlist(divider_board())
    assert set(netlist.inputs) == {"CLK", "RES"}
    clock = [{"RES": 0}, {"RES": 1}]
    for _ in range(9):
        clock += [{"RES": 1, "CLK": 1}, {"RES": 1}]
    shown = drive(netlist, clock, nets=["Q1", "Q2", "Q4", "Q8"])
    counts = [sum(int(bit) << place for place, bit in enumerate(row)) for row in shown]
    assert counts == [0, 0, *(count for count in range(1, 10) for _ in range(2))]


def test_the_pull_up_ends_the_reset_when_the_switch_is_let_go() -> None:
    netlist = logic_netlist(divider_board())
    released = 2
    rows = [[[0, 0]], [[0, released]], [[1, released]]]
    order = [netlist.inputs.index("CLK"), netlist.inputs.index("RES")]
    stimulus = np.zeros((3, 1, 2), int)
    stimulus[:, :, order] = rows
    assert trace(netlist, stimulus, nets=["Q1"]).words("Q1")[0, :, 0].tolist() == ["0", "0", "1"]


def test_the_counter_is_unknown_without_a_reset_and_an_amplifier_drives_the_unknown() -> None:
    netlist = logic_netlist(divider_board())
    assert drive(netlist, [{"RES": 1}], nets=["Q8", "AUDIO"]) == [[UNKNOWN, UNKNOWN]]


def test_supply_pins_that_an_importer_has_named_are_known_still() -> None:
    board = divider_board()
    pins = {{"16": "vcc", "8": "gnd"}.get(pin, pin): net for pin, net in board.parts["U1"].pins.items()}
    renamed = Board("divider", {**board.parts, "U1": Part("U1", "counter", pins, "74HC161")}, rails=board.rails)
    netlist = logic_netlist(renamed)
    assert (netlist.chips["U1"].supply, netlist.chips["U1"].ground) == (("vcc",), ("gnd",))
    assert drive(netlist, [{"RES": 0}], nets=["Q8"]) == [["0"]]


NETLIST = """(export (version D)
  (components
    (comp (ref U1) (value 74LS00)) (comp (ref U2) (value 74LS125)) (comp (ref J1) (value Conn_01x06))
    (comp (ref C1) (value 100n)) (comp (ref C2) (value 100n)) (comp (ref R1) (value 10k)))
  (nets
    (net (code 1) (name GND) (node (ref U1) (pin 7)) (node (ref U2) (pin 7)) (node (ref C1) (pin 2))
      (node (ref C2) (pin 2)) (node (ref J1) (pin 1)))
    (net (code 2) (name +5V) (node (ref U1) (pin 14)) (node (ref U2) (pin 14)) (node (ref C1) (pin 1))
      (node (ref C2) (pin 1)) (node (ref J1) (pin 2)) (node (ref R1) (pin 1)))
    (net (code 3) (name A) (node (ref J1) (pin 3)) (node (ref U1) (pin 1)))
    (net (code 4) (name B) (node (ref J1) (pin 4)) (node (ref U1) (pin 2)))
    (net (code 5) (name OFF) (node (ref J1) (pin 5)) (node (ref U2) (pin 1)))
    (net (code 6) (name MID) (node (ref U1) (pin 3)) (node (ref U2) (pin 2)))
    (net (code 7) (name OUT) (node (ref U2) (pin 3)) (node (ref J1) (pin 6)) (node (ref R1) (pin 2)))))
"""


def test_a_board_that_was_read_from_a_netlist_has_its_logic(tmp_path) -> None:
    (tmp_path / "nand.net").write_text(NETLIST, "utf-8")
    netlist = logic_netlist(load_board(tmp_path / "nand.net"))
    assert set(netlist.inputs) == {"A", "B", "OFF"}
    steps = [{"A": 1, "B": 1}, {"A": 1}, {"A": 1, "B": 1, "OFF": 1}]
    assert drive(netlist, steps, nets=["MID", "OUT"]) == [["0", "0"], ["1", "1"], ["0", "1"]]
    assert drive(netlist, steps[:1], [defect(netlist, "U1", "pin 3 stuck_high")], ["OUT"]) == [["1"]]
