"""
March tests run over every fault of a small memory detect what the literature says they do.

Outside: a published table (published_coverage.toml, read second-hand); the theorem on decoder faults and the classical
claims of van de Goor, Testing Semiconductor Memories, 1991 (from memory). Second method: plain_cells.py.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from plain_cells import detected

from kilter.measure.tables import table
from kilter.signals.memory.decoder_faults import KINDS, coverage
from kilter.signals.memory.faulty_cells import all_detected
from kilter.signals.memory.march import MarchTest, march_test, march_tests
from kilter.signals.memory.primitives import families

PUBLISHED = tomllib.loads((Path(__file__).parent / "published_coverage.toml").read_text("utf-8"))
CELLS = 3
COLUMNS = ("SAF", "TF", "AF", "CFin", "CFid", "CFst")


@pytest.mark.parametrize("family", PUBLISHED["detected"])
def test_coverage_is_the_published_one(family: str) -> None:
    for test, published in zip(PUBLISHED["tests"], PUBLISHED["detected"][family], strict=True):
        if test not in PUBLISHED["disputed"].get(family, []):
            found, of = all_detected(march_test(test), families()[family], CELLS)
            assert (test, found) == (test, published)
            assert of == 8 or not family.startswith("CF")


def test_few_published_entries_are_disputed() -> None:
    assert sum(map(len, PUBLISHED["disputed"].values())) == 8
    assert sum(map(len, PUBLISHED["detected"].values())) == 120


@pytest.mark.parametrize("test", march_tests())
def test_two_simulators_agree(test: str) -> None:
    for family, row in table("memory")["families"].items():
        counts = [detected(march_test(test), one.split("&"), 2) for one in row["faults"]]
        assert all_detected(march_test(test), families()[family], 2) == (
            sum(c[0] for c in counts),
            sum(c[1] for c in counts),
        )


COMPLETE = {
    "mats": {"SAF"},
    "mats+": {"SAF"},
    "mats++": {"SAF", "TF"},
    "march-x": {"SAF", "TF", "CFin"},
    "march-y": {"SAF", "TF", "CFin"},
    "march-c-": {"SAF", "TF", "CFin", "CFid", "CFst"},
    "march-a": {"SAF", "TF", "CFin", "CFid", "CFst"},
    "march-b": {"SAF", "TF", "CFin", "CFid", "CFst"},
}
"""Families that each test covers completely: from memory (van de Goor 1991), A and B also in the table's source."""


@pytest.mark.parametrize("test", COMPLETE)
def test_classical_claims(test: str) -> None:
    for family in ("SAF", "TF", "CFin", "CFid", "CFst"):
        found, of = all_detected(march_test(test), families()[family], CELLS)
        assert (family, found == of) == (family, family in COMPLETE[test])


def test_march_ss_detects_all_static_simple_faults() -> None:
    """The claim of its authors' abstract (2002): all realistic simple static faults, in 22n."""
    assert march_test("march-ss").length == 22
    for family, faults in families().items():
        found, of = all_detected(march_test("march-ss"), faults, CELLS)
        assert (family, found) == (family, of)


def _meets_decoder_condition(test: MarchTest) -> bool:
    """
    Theorem, from memory (van de Goor 1991): ⇑(rx,...,w~x) and ⇓(r~x,...,wx) both stand in the test.

    Reads after an element's last write change nothing, so the last write is what counts.
    """

    def turned(order: str) -> set[int]:
        """Values that such an element reads first and leaves inverted."""
        elements = [el.operations for el in test.elements if el.order == order and not el.operations[0].write]
        written = [(ops[0].value, [one.value for one in ops if one.write][-1:]) for ops in elements]
        return {value for value, last in written if last == [1 - value]}

    return any((1 - value) in turned("down") for value in turned("up"))


@pytest.mark.parametrize("test", march_tests())
def test_decoder_faults_are_covered_where_the_theorem_says_so(test: str) -> None:
    counts = [coverage(march_test(test), kind, 4) for kind in KINDS]
    if _meets_decoder_condition(march_test(test)):
        assert all(found == of for found, of in counts)
    else:
        assert any(found < of for found, of in counts)


@pytest.mark.parametrize(("test", "n"), [(key, row["n"]) for key, row in table("memory")["tests"].items()])
def test_length_is_the_published_one(test: str, n: int) -> None:
    assert march_test(test).length == n


def test_the_page_tells_the_computed_coverage() -> None:
    """The table in docs/memory.md is what the simulators find."""
    page = (Path(__file__).parents[2] / "docs" / "memory.md").read_text("utf-8")
    for key in march_tests():
        test = march_test(key)
        counts = {one: all_detected(test, families()[one], CELLS) for one in COLUMNS if one != "AF"}
        decoder = [coverage(test, kind, 4) for kind in KINDS]
        counts["AF"] = (sum(found for found, _ in decoder), sum(of for _, of in decoder))
        shares = [f"{100 * counts[family][0] / counts[family][1]:.0f} %" for family in COLUMNS]
        assert f"| {test.name} | {test.length} | " + " | ".join(shares) + " |" in page
