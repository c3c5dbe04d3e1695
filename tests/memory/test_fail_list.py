"""Fail lists made by running a march test on a whole memory lead back to the fault that was in it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_reads import WIRE, bits, number

from kilter.measure.errors import BadInput, OutOfRange
from kilter.signals.memory.fail_entries import Fails, Setting
from kilter.signals.memory.fail_list import weigh_fails
from kilter.signals.memory.march import MarchTest, march_test
from kilter.signals.memory.verdict import Verdict

WORDS, WIDTH, LINES = 64, 8, 6
Level = Callable[[int], int]


def wire(kind: str, lines: tuple[int, ...], count: int) -> Level:
    def change(value: int) -> int:
        levels = bits(value, count)
        WIRE[kind](levels, lines)
        return number(levels)

    return change


def good(value: int) -> int:
    return value


def run(test: MarchTest, *, address: Level = good, data: Level = good, read: Callable[[int, int], int] | None = None,
        background: int = 0) -> list[tuple[int, int, int, int]]:  # fmt: skip
    """(element, address, expected, read) of every read that fails on a memory with faulty wires or cells."""
    cells, fails = [background] * WORDS, []
    for element, at, operation in test.steps(WORDS):
        word = background ^ (255 if operation.value else 0)
        if operation.write:
            cells[address(at)] = data(word)
            continue
        came = data(cells[address(at)])
        came = read(at, came) if read else came
        if came != word:
            fails.append((element, at, word, came))
    return fails


def verdict(
    rows: list[tuple[int, int, int, int]], test: MarchTest, *, elements: bool = True, background: int = 0
) -> Verdict:
    table = np.array(rows, dtype=np.int64).reshape(-1, 4)
    fails = Fails(table[:, 1], table[:, 2], table[:, 3], table[:, 0] if elements else None)
    return weigh_fails(fails, Setting(test, WORDS, WIDTH, background))


def leaders(found: Verdict) -> set[tuple[str, tuple[int, ...]]]:
    """The first explanation, and all that are tied with it."""
    group = next((group for group in found.ties if 0 in group), (0,))
    told = [found.findings[at].explanation for at in group]
    return {(one.kind, one.hypothesis[0].lines if one.hypothesis else ()) for one in told}


@settings(max_examples=60, deadline=None)
@given(kind=st.sampled_from(["stuck_low", "stuck_high", "short_and", "short_or"]),
       pair=st.lists(st.integers(0, LINES - 1), min_size=2, max_size=2, unique=True),
       name=st.sampled_from(["mats+", "march-c-", "march-b", "march-ss"]))  # fmt: skip
def test_address_lines(kind: str, pair: list[int], name: str) -> None:
    lines = tuple(sorted(pair)) if kind.startswith("short") else (pair[0],)
    test = march_test(name)
    found = verdict(run(test, address=wire(kind, lines, LINES)), test)
    assert (f"address_{kind}", lines) in leaders(found)
    assert all(told[1] == lines for told in leaders(found)), "a march test names the lines, if not the level"
    assert found.findings[0].explanation.wrong == 0


@pytest.mark.parametrize("line", range(WIDTH))
@pytest.mark.parametrize("kind", ["stuck_low", "stuck_high"])
@pytest.mark.parametrize("elements", [True, False])
def test_data_lines(kind: str, line: int, elements: bool) -> None:
    test = march_test("march-c-")
    found = verdict(run(test, data=wire(kind, (line,), WIDTH)), test, elements=elements)
    assert leaders(found) == {(f"data_{kind}", (line,))}


def test_data_short_shows_only_with_a_background_that_tells_the_lines_apart() -> None:
    test = march_test("march-c-")
    short = wire("short_and", (0, 1), WIDTH)
    assert run(test, data=short) == []
    silent = verdict([], test)
    assert ("data_short_and", (0, 1)) in leaders(silent), "what the test cannot show stays possible"
    shown = verdict(run(test, data=short, background=0x55), test, background=0x55)
    assert leaders(shown) == {("data_short_and", (0, 1))}


def test_dead_half_and_single_cell() -> None:
    test = march_test("march-c-")
    half = verdict(run(test, read=lambda at, came: came | 0x0F if at >= 32 else came), test)
    change = half.findings[0].explanation.hypothesis[0]
    assert change.region is not None
    assert (change.kind, change.region.first, change.region.last, change.region.bits) == ("dead_high", 32, 63, 0x0F)
    cell = verdict(run(test, read=lambda at, came: came & ~4 if at == 9 else came), test)
    assert cell.findings[0].explanation.kind == "cells"


def test_probabilities_add_up() -> None:
    found = verdict([(1, 3, 0, 255), (2, 9, 255, 0)], march_test("march-c-"))
    assert sum(one.probability for one in found.findings) + found.rest == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("row", "named"),
    [((1, 64, 0, 1), "0x40"), ((1, 3, 7, 1), "0x7"), ((1, 3, 0, 300), "0x12c"), ((1, 3, 0, 0), "0x0"),
     ((0, 3, 0, 1), "element 0"), ((1, 3, 255, 1), "element 1"), ((9, 3, 0, 1), "element 9")],
)  # fmt: skip
def test_fails_that_cannot_be_are_refused(row: tuple[int, int, int, int], named: str) -> None:
    with pytest.raises(BadInput) as caught:
        verdict([row], march_test("mats+"))
    assert named in str(caught.value)


@pytest.mark.parametrize("setting", [{"words": 63}, {"words": 0}, {"words": 2}, {"width": 9}, {"background": 256}])
def test_memories_that_cannot_be_are_refused(setting: dict[str, int]) -> None:
    with pytest.raises(OutOfRange):
        Setting(march_test("mats+"), **{"words": 64, **setting})
