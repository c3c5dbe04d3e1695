"""
Errors that really happen, on German pages: of every part each piece was found in a catalogue.

Whether a piece was found is looked up (see english_left); nobody guesses at words.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from django.utils import translation
from english_left import english_left

from kilter.importers.load import load_board, load_readings
from kilter.measure.errors import BadInput

CORPUS = Path(__file__).parents[1] / "bad_input"
FILES = tomllib.loads((CORPUS / "expected.toml").read_text())
SOUND = CORPUS / "boards" / "good.cir"


@pytest.mark.parametrize("name", FILES)
def test_a_bad_file_is_told_in_german(name: str) -> None:
    """Files of tests/bad_input, broken by hand after the manuals named there."""
    with pytest.raises(BadInput) as caught:
        load_readings(CORPUS / name, load_board(SOUND)) if name.startswith("readings/") else load_board(CORPUS / name)
    error = caught.value
    for part in (error.doing, error.found, error.allowed, error.do_next):
        assert english_left(part) == []


def test_the_check_sees_what_is_not_known() -> None:
    """That the check can fail: sentences that nobody wrote."""
    assert english_left("a sentence that no file of ours holds") == ["a sentence that no file of ours holds"]
    assert english_left("the key 'x' at lamp.toml; nobody ever said that") == ["nobody ever said that"]
    with translation.override("de"):
        assert english_left("nothing under 'reason'") == []
