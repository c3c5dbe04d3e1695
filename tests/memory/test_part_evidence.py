"""From a memory's contents to the odds of parts: what is read raises the right modes, and the weigher takes it."""

from __future__ import annotations

from math import log

import numpy as np
import pytest
from plain_reads import faulty

from kilter.diagnose.priors import priors
from kilter.measure.errors import BadInput
from kilter.parts.kinds import modes_of
from kilter.records.part import Part
from kilter.services.memory_faults import MemoryReport, explain_dump, explain_fails
from kilter.signals.memory.bank import Bank, Chip, Driver
from kilter.signals.memory.contents import Contents
from kilter.signals.memory.fail_entries import Fails, Setting
from kilter.signals.memory.figures import number
from kilter.signals.memory.march import march_test

PINS = tuple(f"a{line}" for line in range(10))
DATA = tuple(f"d{line}" for line in range(8))
LOW = Chip("U5", 0, 511, tuple(range(8)), PINS[:9], DATA, ("cs",), ("vcc", "gnd"))
HIGH = Chip("U6", 512, 1023, tuple(range(8)), PINS[:9], DATA, ("cs",), ("vcc", "gnd"))
DRIVERS = (Driver("U9", address={line: f"y{line}" for line in range(10)}), Driver("U10", data={2: "b2"}))
BANK = Bank(1024, 8, (LOW, HIGH), DRIVERS)
HELD = np.random.default_rng(0).integers(0, 256, 1024).astype(np.uint8)
IMAGE = Contents(HELD, 8)


def report(
    words: np.ndarray | list[int], *more: np.ndarray, bank: Bank = BANK, chip: str = "", stored: Contents = IMAGE
) -> MemoryReport:
    reads = [Contents(np.asarray(one, dtype=np.uint8), 8) for one in (words, *more)]
    return explain_dump(stored, reads, bank=bank, chip=chip)


def best(found: MemoryReport) -> set[tuple[str, str]]:
    """Modes within a factor of 50 of the best one that speak for themselves."""
    top = max(found.factors.values())
    return {mode for mode, ratio in found.factors.items() if ratio > max(top - log(50), 0.0)}


def test_address_line_of_the_whole_bank_speaks_for_its_driver() -> None:
    found = report(faulty(HELD.tolist(), 8, "address_stuck_low", (3,)))
    assert best(found) == {("U9", "stuck_low"), ("U9", "open y3"), ("U9", "dead")}
    assert found.faults[0].parts == (("U9", ("y3",)),)


def test_address_pin_of_one_chip_speaks_for_that_chip() -> None:
    words = HELD.copy()
    words[512:] = faulty(HELD[512:].tolist(), 8, "address_stuck_high", (3,))
    found = report(words)
    assert best(found) == {("U6", "open a3")}
    assert found.faults[0].parts == (("U6", ("a3",)),)


def test_dead_chip_and_bad_cells() -> None:
    dead = HELD.copy()
    dead[:512] = 255
    assert ("U5", "dead") in best(report(dead))
    assert all(part == "U5" for part, _ in best(report(dead)))
    cells = HELD.copy()
    cells[[600, 700]] ^= 1
    assert {("U5", "wrong"), ("U6", "wrong")} & best(report(cells))


def test_chip_that_is_always_selected() -> None:
    words = HELD.copy()
    words[:512] &= HELD[512:]
    assert ("U6", "open cs") in best(report(words))
    assert report(words).faults[0].kind == "select_stuck"


def test_data_line_points_to_every_part_on_it() -> None:
    found = report(faulty(HELD.tolist(), 8, "data_stuck_high", (2,)))
    assert {("U10", "stuck_high"), ("U10", "open b2")} <= best(found)
    assert all(ratio <= number("evidence_cap") for ratio in found.factors.values())


def test_equal_contents_speak_against_every_lasting_fault() -> None:
    found = report(HELD, HELD)
    assert set(found.factors.values()) <= {ratio for ratio in found.factors.values() if ratio < 0}
    assert ("U5", "dead") in found.factors
    assert ("U5", "intermittent") not in found.factors, "equal reads once say nothing about what comes and goes"


def test_bits_that_change_between_reads_speak_for_what_comes_and_goes() -> None:
    other = HELD.copy()
    other[[5, 6]] ^= 4
    found = report(HELD, other)
    assert found.factors["U5", "intermittent"] > 0
    assert any("changed between" in note for note in found.notes)


def test_chip_read_alone_leaves_its_board_out() -> None:
    stored = Contents(HELD[:512], 8)
    found = report(faulty(HELD[:512].tolist(), 8, "address_stuck_high", (2,)), chip="U6", stored=stored)
    assert ("U6", "open a2") in best(found)
    assert {part for part, _ in found.factors} == {"U6"}


def test_wrong_image_speaks_for_no_part() -> None:
    found = report(np.random.default_rng(4).integers(0, 256, 1024).astype(np.uint8))
    assert all(ratio < log(3) for ratio in found.factors.values())


def test_the_weigher_takes_it() -> None:
    """Posterior odds of independent faults are prior odds times the factor: Bayes' rule, by hand."""
    parts = [
        Part("U5", "rom", dict.fromkeys([*PINS[:9], *DATA, "cs", "vcc", "gnd"], "n")),
        Part("U9", "logic", {f"y{n}": "n" for n in range(10)}),
    ]
    shares = {(part.ref, mode.key): mode.odds for part in parts for mode in modes_of(part)}
    found = report(faulty(HELD.tolist(), 8, "address_stuck_low", (3,)))
    used = {mode: found.factors[mode] for mode in shares if mode in found.factors}
    assert ("U9", "stuck_low") in used
    before, after = priors(shares, outside=0.0), priors(shares, log_factors=found.factors, outside=0.0)
    for mode in shares:
        assert after.log_odds[mode] == pytest.approx(before.log_odds[mode] + used.get(mode, 0.0))
    assert {part for part, _ in after.faults()[:2]} == {"U9"}


def test_contents_that_do_not_fit_the_bank_are_refused() -> None:
    with pytest.raises(BadInput, match="512 words"):
        report(HELD[:512], stored=Contents(HELD[:512], 8))
    with pytest.raises(BadInput, match="U7"):
        report(HELD, chip="U7")


def test_march_fails_speak_for_the_chip_whose_pin_is_open() -> None:
    """Every access of U6 lands in the half with A3 high; the test is run address by address."""
    test = march_test("mats+")
    cells, fails = [0] * 1024, []
    for element, at, operation in test.steps(1024):
        reached = at | 8 if at >= 512 else at
        word = 255 if operation.value else 0
        if operation.write:
            cells[reached] = word
        elif cells[reached] != word:
            fails.append((at, word, cells[reached], element))
    table = np.array(fails, dtype=np.int64)
    found = explain_fails(Fails(*table.T), Setting(test, 1024, 8), bank=BANK)
    assert best(found) == {("U6", "open a3")}
    assert all(at >= 512 for at, *_ in fails)
