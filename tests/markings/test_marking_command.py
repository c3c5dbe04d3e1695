"""The marking command: doubt is shown, nothing is guessed, bad input teaches."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kilter.cli.main import run
from kilter.measure.errors import BadInput
from kilter.parts.markings import read_marking

ALPHABET = "0123456789ABCDEFGHJKLMNPRSTUVXYZRKMpnµu.,-/ °±%"


def test_a_sure_reading_ends_with_zero(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["marking", "4K7J", "--kind", "resistor"]) == 0
    assert "likely: 4.7 kΩ ±5 %" in capsys.readouterr().out


def test_doubt_ends_with_three_and_lists_the_rivals(capsys: pytest.CaptureFixture[str]) -> None:
    """10M is ten megohm on a resistor, ten picofarad and 20 % on a capacitor (IEC 60062): nobody said which."""
    assert run(["marking", "10M", "--json"]) == 3
    told = json.loads(capsys.readouterr().out)["pieces"][0]
    words = {one["words"]: one["standing"] for one in told["readings"]}
    assert words["10 MΩ"] == words["10 pF ±20 %"] == "possible"
    assert not told["settled"]


def test_what_nobody_reads_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["marking", "MYSTERY"]) == 3
    told = capsys.readouterr()
    assert "no scheme reads this" in told.out
    assert "Unanswered" in told.err


def test_polarity_goes_with_every_polarised_part(capsys: pytest.CaptureFixture[str]) -> None:
    """The same bar means minus on aluminium and plus on moulded tantalum."""
    run(["marking", "47µF", "16V"])
    told = capsys.readouterr().out
    assert "stripe with minus signs" in told
    assert "opposite of aluminium" in told


def test_heat_brings_the_neighbours_in(capsys: pytest.CaptureFixture[str]) -> None:
    run(["marking", "--colours", "brown,black,red,gold", "--json"])
    alone = json.loads(capsys.readouterr().out)["pieces"][0]["readings"]
    run(["marking", "--colours", "brown,black,red,gold", "--heated", "--json"])
    more = json.loads(capsys.readouterr().out)["pieces"][0]["readings"]
    assert len(alone) == 1
    values = {one["fields"]["resistance"] for one in more}
    assert {1000.0, 10e3, 2000.0} <= values  # red seen brown-red may be orange; brown may be red


@pytest.mark.parametrize("given_words", [[], ["4K7", "--colours", "red,red,red"], ["--colours", "red,mauve,red"],
                                         ["--colours", "red"], ["x" * 100], ["--colours", ",".join(["red"] * 7)],
                                         ["432", "--first", "1999", "--last", "1970"]])  # fmt: skip
def test_bad_input_is_refused_in_four_parts(given_words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    code = run(["marking", *given_words])
    told = capsys.readouterr().err
    assert code in (2, 3)
    assert "Traceback" not in told
    assert code == 3 or ("found" in told and "Allowed" in told)


@settings(deadline=None)
@given(st.text(ALPHABET, min_size=1, max_size=12))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Shares of a piece add up to one, and at most one reading is likely."""
    try:
        pieces = read_marking(text)
    except BadInput:
        assert not text.strip()
        return
    for piece in pieces:
        if piece.readings:
            assert sum(one.share for one in piece.readings) == pytest.approx(1.0)
        assert sum(one.standing == "likely" for one in piece.readings) <= 1
