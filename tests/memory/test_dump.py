"""A dump is explained by the fault it was made with; dumps are made word by word in plain_reads.py."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_reads import WIRE, faulty
from scipy.special import betaln

from kilter.measure.errors import BadInput
from kilter.services.memory_faults import explain_dump
from kilter.signals.memory.changes import Region
from kilter.signals.memory.comparison import Comparison, compare
from kilter.signals.memory.contents import Contents, agree, contents_of
from kilter.signals.memory.figures import fault_classes, log_share

WORDS, WIDTH = 1024, 8
KINDS = [f"{where}_{change}" for where in ("address", "data") for change in WIRE]


def image(seed: int = 0, words: int = WORDS) -> Contents:
    """Contents with runs and blanks, as programs have."""
    random = np.random.default_rng(seed)
    held = random.integers(0, 256, words).astype(np.uint8)
    held[words // 2 : words // 2 + words // 8] = 0xFF
    return Contents(held, WIDTH)


def seen(words: list[int] | np.ndarray, stored: Contents | None = None) -> Comparison:
    return compare(stored or image(), [Contents(np.asarray(words, dtype=np.uint8), WIDTH)])


def top(found: Comparison) -> tuple[str, tuple[int, ...]]:
    first = found.verdict.findings[0].explanation
    return first.kind, first.hypothesis[0].lines if first.hypothesis else ()


@settings(max_examples=120, deadline=None)
@given(kind=st.sampled_from(KINDS), one=st.integers(0, 7), two=st.integers(0, 7), seed=st.integers(0, 5))
def test_single_line_fault_is_named(kind: str, one: int, two: int, seed: int) -> None:
    lines = tuple(sorted({one, two})) if kind.endswith(("and", "or", "swap")) else (one,)
    if len(lines) == 1 and kind.endswith(("and", "or", "swap")):
        return
    stored = image(seed)
    found = seen(faulty(stored.words.tolist(), WIDTH, kind, lines), stored)
    assert top(found) == (kind, lines)
    assert found.verdict.findings[0].explanation.wrong == 0


@settings(max_examples=40, deadline=None)
@given(first=st.sampled_from(KINDS[:2] + KINDS[6:8]), second=st.sampled_from(KINDS[:2] + KINDS[6:8]),
       one=st.integers(0, 7), two=st.integers(0, 7))  # fmt: skip
def test_two_faults_at_once_are_named(first: str, second: str, one: int, two: int) -> None:
    """Stuck lines only: these may act in any order, address lines before data lines."""
    if first.split("_")[0] == second.split("_")[0] and one == two:
        return
    words = image().words.tolist()
    for kind, line in sorted([(first, one), (second, two)]):
        words = faulty(words, WIDTH, kind, (line,))
    explained = {(c.kind, c.lines) for c in seen(words).verdict.findings[0].explanation.hypothesis}
    assert explained == {(first, (one,)), (second, (two,))}


@pytest.mark.parametrize("bad", [1, 3, 8])
def test_single_cells_are_counted(bad: int) -> None:
    random = np.random.default_rng(bad)
    words = image().words.copy()
    words[random.choice(WORDS, bad, replace=False)] ^= (1 << random.integers(0, 8, bad)).astype(np.uint8)
    found = seen(words)
    assert top(found)[0] == "cells"
    assert found.counts.wrong == bad


def test_drift_towards_erased_is_told_from_cells() -> None:
    random = np.random.default_rng(3)
    drift = np.packbits(random.random((WORDS, 8)) < 0.03, axis=1).ravel()
    assert top(seen(image().words | drift))[0] == "fade"
    assert top(seen(image().words ^ drift))[0] != "fade"


def test_dead_parts_inverted_shifted_and_wrong() -> None:
    held = image().words
    dead = held.copy()
    dead[256:512] |= 0xF0
    first = seen(dead).verdict.findings[0].explanation.hypothesis[0]
    assert (first.kind, first.region) == ("dead_high", Region(256, 511, 0xF0))
    assert top(seen(~held))[0] == "inverted"
    assert top(seen(np.roll(held, -37))) == ("shifted", (37,))
    assert top(seen(np.random.default_rng(9).integers(0, 256, WORDS)))[0] == "wrong_image"
    noise = (held & 0xFE) | np.random.default_rng(8).integers(0, 2, WORDS).astype(np.uint8)
    assert top(seen(noise)) == ("data_open", (0,))


def test_what_no_fault_explains_is_not_in_the_model() -> None:
    words = image().words.copy()
    words[100:160] = words[700:760]
    words[600:640] ^= 0x5A
    found = seen(words)
    assert found.verdict.not_in_model > 0.9


def test_equal_contents_say_what_they_could_not_show() -> None:
    blank = Contents(np.full(WORDS, 0xFF, dtype=np.uint8), WIDTH)
    found = compare(blank, [blank])
    assert found.silent == (tuple(range(10)), tuple(range(8)))
    same = found.verdict.findings[0]
    assert same.explanation.kind == "same"
    assert same.probability < 0.75, "an empty image tests no line, so faults stay possible"
    assert any(0 in group for group in found.verdict.ties)
    report = explain_dump(blank, [blank])
    assert any("Not tested" in note for note in report.notes)
    assert seen(image().words).verdict.findings[0].probability > same.probability


def test_tie_is_shown_where_the_image_cannot_tell() -> None:
    """The two halves of the image are equal on line 4 alone: A4 and A5 play the same part."""
    held = np.tile(np.repeat(np.arange(2, dtype=np.uint8), 16), WORDS // 32)
    held = held | (np.arange(WORDS) >> 9 << 7).astype(np.uint8)
    stored = Contents(held, WIDTH)
    found = compare(
        stored, [Contents(np.array(faulty(held.tolist(), 8, "address_stuck_low", (4,)), dtype=np.uint8), 8)]
    )
    tied = {found.verdict.findings[at].explanation.kind for group in found.verdict.ties for at in group if 0 in group}
    assert {"address_stuck_low", "data_stuck_low"} <= tied


def test_reads_are_agreed_by_majority() -> None:
    one, two, three = (Contents(np.array([w, 2, 3, 4], dtype=np.uint8), 8) for w in (7, 6, 7))
    together = agree([one, two, three])
    assert together.agreed.words.tolist() == [7, 2, 3, 4]
    assert together.unstable_bits == 1
    assert agree([two, one]).agreed.words.tolist() == [6, 2, 3, 4]


@settings(max_examples=60, deadline=None)
@given(words=st.lists(st.integers(0, 255), min_size=4, max_size=300), other=st.data())
def test_any_contents_are_weighed(words: list[int], other: st.DataObject) -> None:
    """Any length, any content: probabilities add up to one and nothing breaks."""
    read = other.draw(st.lists(st.integers(0, 255), min_size=4, max_size=300))
    found = compare(contents_of(bytes(words)), [contents_of(bytes(read))])
    total = sum(one.probability for one in found.verdict.findings) + found.verdict.rest
    assert total == pytest.approx(1.0)
    assert found.partial == (len(words) != len(read))
    assert 0 <= found.verdict.not_in_model <= 1


@pytest.mark.parametrize("width", [1, 4, 8, 16, 32])
def test_widths(width: int) -> None:
    raw = np.random.default_rng(width).integers(0, 256, 1024).astype(np.uint8).tobytes()
    stored = contents_of(raw, width)
    line = width - 1
    stuck = Contents(stored.words & stored.words.dtype.type(stored.mask & ~(1 << line)), width)
    kinds = {one.explanation.kind for one in compare(stored, [stuck]).verdict.findings[:3]}
    assert kinds & {"data_stuck_low", "dead_low"}


def test_big_endian_words() -> None:
    assert contents_of(b"\x12\x34\x56\x78" * 4, 16, big_endian=True).words[0] == 0x1234
    assert contents_of(b"\x12\x34\x56\x78" * 4, 16).words[0] == 0x3412


@pytest.mark.parametrize(("raw", "width"), [(b"", 8), (b"abc", 8), (b"abcdefghi", 16), (b"abcdefgh", 7)])
def test_unusable_bytes_are_refused(raw: bytes, width: int) -> None:
    with pytest.raises(BadInput) as caught:
        contents_of(raw, width)
    assert caught.value.found
    assert caught.value.do_next


def test_reads_that_do_not_fit_are_refused() -> None:
    with pytest.raises(BadInput):
        compare(image(), [])
    with pytest.raises(BadInput):
        compare(image(), [image(), image(words=512)])
    with pytest.raises(BadInput):
        compare(image(), [Contents(image().words, 4)])


@given(st.integers(0, 5000), st.integers(0, 5000), st.floats(0.5, 1e5))
def test_chance_of_wrong_bits_is_the_beta_binomial_one(wrong: int, right: int, weight: float) -> None:
    """Outside: scipy.special.betaln. Tolerance: lgamma's rounding at these sizes, in nats."""
    expected = betaln(1 + wrong, weight + right) - betaln(1, weight)
    assert log_share(wrong, wrong + right, weight) == pytest.approx(expected, abs=1e-6, rel=1e-9)


def test_prior_shares_add_up_to_one() -> None:
    assert sum(one.share for one in fault_classes().values()) == pytest.approx(1.0)
