"""
Readings typed in a language with the decimal comma: '4,98 V' counts, what may mean thousands is refused.

Source of the two meanings: ISO 80000-1:2022, 7.3.2 (comma or point as decimal sign) against the custom of writing
thousands with a point in German and with a comma in English.
"""

from __future__ import annotations

import pytest
from django.utils import translation

from kilter.measure.errors import BadInput
from kilter.measure.notation import read_quantity
from kilter.web.typed_figures import in_bench_notation


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("4,98 V", 4.98), ("4.98 V", 4.98), ("1,234 V", 1.234), ("-12,105 V", -12.105), ("0,442 V", 0.442),
        ("1234 V", 1234.0), ("1.234,5 V", 1234.5), ("1 234,5 V", 1234.5), ("12,345(6) V", 12.345),
        ("5,030 V ± 0,020", 5.03), ("1,234e1 V", 12.34),
    ],
)  # fmt: skip
def test_the_german_meaning(typed: str, value: float) -> None:
    with translation.override("de"):
        assert read_quantity(in_bench_notation(typed), "V").value == pytest.approx(value)


@pytest.mark.parametrize("typed", ["1.234 V", "12.345 V", "-5.000 V", "5,03 V ± 1.000", "4.980"])
def test_a_point_before_three_digits_is_refused_in_german(typed: str) -> None:
    with translation.override("de"), pytest.raises(BadInput, match="bedeuten"):
        in_bench_notation(typed)


@pytest.mark.parametrize("typed", ["1.234 V", "4,98 V", "4k7", "OL"])
def test_english_is_left_alone(typed: str) -> None:
    with translation.override("en"):
        assert in_bench_notation(typed) == typed


def test_the_english_comma_before_three_digits_is_still_refused() -> None:
    with translation.override("en"), pytest.raises(BadInput, match="comma"):
        read_quantity(in_bench_notation("1,234 V"), "V")


@pytest.mark.parametrize("typed", ["4k7", "OL", "pulsing", "0x1F", "100n", ">20M", "R1.234", "1.234.567 Hz", "0.442 V"])
def test_what_means_one_thing_everywhere_is_left_alone(typed: str) -> None:
    with translation.override("de"):
        assert in_bench_notation(typed) == typed
