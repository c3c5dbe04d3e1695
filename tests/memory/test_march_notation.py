"""The march notation: what is read, and what is refused with the place named."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kilter.measure.errors import BadInput
from kilter.services.memory_faults import listing
from kilter.signals.memory.march import march_test, parse_march


def test_arrows_and_words_mean_the_same() -> None:
    assert parse_march("{⇕(w0);⇑(r0,w1);⇓(r1)}").elements == parse_march("{any(w0); up(r0, w1); down(r1)}").elements


@pytest.mark.parametrize(
    ("notation", "named"),
    [
        ("", "''"),
        ("{}", "''"),
        ("⇑(w0)", "⇑(w0)"),
        ("{⇑(w2)}", "w2"),
        ("{sideways(w0)}", "sideways"),
        ("{⇑()}", "⇑()"),
        ("{⇕(w0);⇑(r1)}", "holds 0"),
        ("{⇕(r0)}", "nobody has written"),
        ("{⇕(w0);}", "the element"),
    ],
)
def test_what_cannot_be_read_is_named(notation: str, named: str) -> None:
    with pytest.raises(BadInput) as caught:
        parse_march(notation)
    assert named in str(caught.value)


@given(st.text(alphabet="{}();,rw01⇑⇓⇕ up", max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        test = parse_march(text)
    except BadInput:
        return
    assert test.length > 0


def test_steps_visit_every_address_with_every_operation() -> None:
    test = march_test("March C-")
    steps = list(test.steps(16))
    assert len(steps) == 16 * test.length
    down = [address for at, address, _ in steps if test.elements[at].order == "down"]
    assert down[0] == 15
    assert down[-1] == 0


def test_listing_uses_the_background() -> None:
    lines = listing(march_test("mats+"), width=8, background=0x55)
    assert "overwrites" in lines[0]
    assert "read and expect 0x55, then write 0xAA" in lines[2]
    with pytest.raises(BadInput):
        listing(march_test("mats+"), width=4, background=0x55)
