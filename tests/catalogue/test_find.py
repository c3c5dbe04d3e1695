"""Markings as they stand on parts and in drawings, and how much of a count over published boards is covered."""

from __future__ import annotations

import time

import pytest

from kilter.parts.catalogue import find_type, find_types

MARKINGS = {
    "SN74LS138N": "74138",
    "74HCT138": "74138",
    "74LS00": "7400",
    "7400": "7400",
    "DM7400N": "7400",
    "74F245": "74245",
    "MC74HC595AN": "74595",
    "74HC4040": "4040",
    "CD74HC4051E": "4051",
    "74HC14 8432": "7414",
    "LS244": "74244",
    "CD4011BE": "4011",
    "MC14011BCP": "4011",
    "HEF4093BP": "4093",
    "CD40106": "40106",
    "4017": "4017",
    "TC4050BP": "4050",
    "Z80A CPU": "Z80",
    "Z80": "Z80",
    "Z0840006PSC": "Z80",
    "Z84C0006PEG": "Z80",
    "Z80-CTC": "Z8430",
    "Z80A-PIO": "Z8420",
    "Z80 SIO/0": "Z8440",
    "Z80A SIO": "Z8440",
    "Z84C3006": "Z8430",
    "R6502AP": "6502",
    "W65C02S6TPG-14": "65C02",
    "R6522AP": "6522",
    "W65C22": "6522",
    "MC6821P": "6821",
    "MC68B09E": "6809E",
    "HD63B09EP": "6809E",
    "MC6809P": "6809",
    "MC68000P8": "68000",
    "68HC000": "68000",
    "MC68B50": "6850",
    "P8085AH": "8085",
    "D8088": "8088",
    "8086-2": "8086",
    "P8255A-5": "8255",
    "82C55": "8255",
    "D8251A": "8251",
    "8253-5": "8253",
    "82C54": "8253",
    "TL16C550C": "8250",
    "MAX232": "232",
    "MC1488P": "1488",
    "75188": None,
    "2114L-2": "2114",
    "TMS4116-15NL": "4116",
    "MK4116": "4116",
    "D4116C": "4116",
    "HM6116P-3": "6116",
    "6264LP-12": "6264",
    "HM62256BLP-7": "62256",
    "62256": "62256",
    "AS6C62256": "62256",
    "628128": "628128",
    "AS6C4008-55PCN": "628512",
    "4164": "4164",
    "KM41256AP-15": "41256",
    "41464": "4464",
    "TMS4464": "4464",
    "2716": "2716",
    "TMS2732A": "2732",
    "2764-25": "2764",
    "M27C256B": "27256",
    "27C512": "27512",
    "AT28C256": "28256",
    "28C64": "28064",
    "28C16": "28016",
    "SST39SF010A": "39010",
    "SST39SF040": "39040",
    "2364": "2364",
    "24LC256": "24000",
    "uA7805": "78xx",
    "LM7812CT": "78xx",
    "L78L05": "78xx",
    "78M05": "78xx",
    "LM7905": "79xx",
    "LM317T": "317",
    "LM337": "337",
    "LM1117-3.3": "1117",
    "AMS1117-5.0": "1117",
    "NE555P": "555",
    "LM555": "555",
    "NE556": "556",
    "ICM7555": "555",
    "TL072CP": "dual_opamp",
    "NE5532P": "dual_opamp",
    "LM358N": "dual_opamp",
    "TL074": "quad_opamp",
    "LM324N": "quad_opamp",
    "uA741": "single_opamp",
    "LM741CN": "single_opamp",
    "TL071": "single_opamp",
    "RC4558P": "dual_opamp",
    "OP07": "single_opamp",
    "LM393": "dual_comparator",
    "LM339N": "quad_comparator",
    "LM311": "single_comparator",
    "LM13700": "dual_transconductance",
    "2N3904": "small_npn",
    "BC547B": "small_npn",
    "2N2907A": "small_pnp",
    "2SC1815": "small_npn",
    "2N3055": "power_npn",
    "ATMEGA328P": "microcontroller",
    "GAL16V8D": "programmable_logic",
    "ATF22V10C": "programmable_logic",
    "MCP23017": "expander",
    "DS1307": "clock_calendar",
    "": None,
    "10k": None,
    "CONN_01X08": None,
    "100n": None,
    "LED": None,
}
"""Common practice of marking, no source; the key each stands for."""


@pytest.mark.parametrize("marking", sorted(MARKINGS))
def test_marking(marking: str) -> None:
    found = find_type(marking)
    assert (found.key if found else None) == MARKINGS[marking]


def test_family_and_voltage_are_kept() -> None:
    assert [find_type(words).family for words in ("74HCT138", "SN74LS00N", "7400")] == ["HCT", "LS", ""]  # type: ignore
    assert [find_type(words).technology for words in ("74HC00", "74LS00")] == ["cmos", "ttl"]  # type: ignore
    assert [find_type(words).volts["output"] for words in ("L7805", "7912", "78L09")] == [5, -12, 9]  # type: ignore


def test_a_doubtful_marking_gives_more_than_one_reading() -> None:
    assert [kind.key for kind in find_types("4016")][:2] == ["4016", "6116"]


COUNTED = {
    "TL072": 55,
    "74LS138": 27,
    "NE5532": 21,
    "DAC08": 20,
    "TL074": 20,
    "74LS00": 19,
    "CD4066": 17,
    "74LS32": 17,
    "LM4040": 15,
    "74LS74": 15,
    "74LS245": 15,
    "NE555": 14,
    "ATMEGA328": 14,
    "CEM3340": 14,
    "74LS04": 13,
    "MCP23017": 13,
    "62256": 11,
    "74LS08": 11,
    "28C256": 10,
    "74LS374": 8,
    "AS6C4008": 8,
    "24LC256": 8,
    "YM2149": 8,
    "Z80": 8,
    "74LS670": 8,
    "GAL16V8": 7,
    "74LS14": 7,
    "7805": 6,
    "MC14495": 6,
    "TMS9918": 6,
    "74LS573": 6,
    "74LS244": 6,
    "2114": 6,
    "LM317": 5,
    "DS1233": 5,
    "LM386": 5,
    "6502": 5,
    "DS1302": 5,
    "7905": 4,
    "LM393": 4,
    "6850": 4,
    "74LS574": 4,
    "74LS139": 4,
    "LM1117": 4,
    "6264": 4,
    "LM324": 4,
    "SST39SF010": 4,
    "41464": 4,
    "OSC_DIP14": 4,
    "4052": 3,
    "6522": 3,
    "74LS125": 3,
    "Z80 CTC": 3,
    "Z80 SIO": 3,
    "MAX232": 3,
    "74LS541": 3,
    "74LS373": 3,
    "6821": 2,
    "LM13700": 2,
    "4081": 2,
    "74HC595": 2,
    "74LS02": 2,
    "74LS257": 2,
    "4050": 2,
    "74LS161": 2,
    "74LS260": 2,
    "8085": 2,
    "74LS07": 2,
    "74LS30": 2,
    "8255": 2,
    "74LS273": 2,
    "74LS153": 2,
    "74LS157": 2,
    "4040": 2,
    "74LS86": 2,
    "74LS688": 2,
    "6809": 1,
    "68000": 1,
    "6532": 1,
    "27C256": 1,
    "74LS21": 1,
    "74LS27": 1,
    "74LS20": 1,
    "74LS06": 1,
    "74LS148": 1,
    "74LS145": 1,
    "74LS540": 1,
    "74LS175": 1,
    "74LS174": 1,
    "74LS165": 1,
    "74LS38": 1,
    "74LS03": 1,
    "74LS92": 1,
}
"""
Types on 81 published boards of 2014 to 2026 and how often each was there; counted for this project. A group, such as
'dual operational amplifier', stands here under one usual type; numbers of 4 and less were counted only as a rank.
"""


def test_the_types_of_published_boards_are_covered() -> None:
    covered = sum(times for marking, times in COUNTED.items() if find_type(marking))
    with_pins = sum(times for marking, times in COUNTED.items() if (kind := find_type(marking)) and kind.pins)
    assert covered >= 0.95 * sum(COUNTED.values())
    assert with_pins >= 0.80 * sum(COUNTED.values())


def test_finding_is_quick() -> None:
    find_type("74LS00")
    start = time.perf_counter()
    for place in range(300):
        find_type(f"NOTHING{place}")
    assert time.perf_counter() - start < 30.0, "300 unknown markings; a board has about as many parts"
