"""Coverage factors against a published table and another library."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kilter.measure.errors import OutOfRange
from kilter.measure.student import coverage_factor

# NIST Technical Note 1297, table B.1: degrees of freedom, then t for 90, 95, 95.45, 99 and 99.73 %.
TABLE_B1 = """
1 6.31 12.71 13.97 63.66 235.80
2 2.92 4.30 4.53 9.92 19.21
3 2.35 3.18 3.31 5.84 9.22
4 2.13 2.78 2.87 4.60 6.62
5 2.02 2.57 2.65 4.03 5.51
8 1.86 2.31 2.37 3.36 4.28
10 1.81 2.23 2.28 3.17 3.96
16 1.75 2.12 2.17 2.92 3.54
20 1.72 2.09 2.13 2.85 3.42
50 1.68 2.01 2.05 2.68 3.16
100 1.660 1.984 2.025 2.626 3.077
inf 1.645 1.960 2.000 2.576 3.000
"""


@pytest.mark.parametrize("line", TABLE_B1.split("\n")[1:-1])
def test_table_of_technical_note_1297(line: str) -> None:
    dof, *factors = line.split()
    for confidence, printed in zip((0.90, 0.95, 0.9545, 0.99, 0.9973), factors, strict=True):
        # Half of the last digit printed; the two upper levels are rounded names of k = 2 and k = 3, hence the rest.
        slack = 0.5 * 10.0 ** -len(printed.partition(".")[2])
        rounded_level = 2e-3 * float(printed) if confidence in {0.9545, 0.9973} else 0.0
        allowed = slack + rounded_level + 1e-9
        assert coverage_factor(float(dof), confidence) == pytest.approx(float(printed), abs=allowed)


@settings(deadline=None)  # the first example pays for the import
@given(st.floats(0.3, 1e6), st.floats(0.01, 0.9999))
def test_agrees_with_scipy(dof: float, confidence: float) -> None:
    stats = pytest.importorskip("scipy.stats", reason="scipy is a test-time reference only")
    assert coverage_factor(dof, confidence) == pytest.approx(float(stats.t.ppf((1 + confidence) / 2, dof)), rel=1e-8)


def test_one_degree_of_freedom_is_the_cauchy_distribution() -> None:
    """Closed form: tan(pi confidence / 2)."""
    assert coverage_factor(1, 0.95) == pytest.approx(math.tan(math.pi * 0.475), rel=1e-12)


@pytest.mark.parametrize(("dof", "confidence"), [(0, 0.95), (-1, 0.95), (5, 0), (5, 1), (5, 95), (math.nan, 0.95)])
def test_what_has_no_factor_is_refused(dof: float, confidence: float) -> None:
    with pytest.raises(OutOfRange):
        coverage_factor(dof, confidence)
