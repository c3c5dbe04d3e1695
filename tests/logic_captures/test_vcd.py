"""
The VCD reader against an independent writer and an independent reader of the format, and against IEEE 1364-2005.

Writer: pyvcd. Reader: vcdvcd. Both are public packages that know nothing of this project.
"""

from __future__ import annotations

import io
import signal
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_captures import vcd_text
from vcdvcd import VCDVCD

import vcd
from kilter.importers import vcd as reader
from kilter.importers.vcd import read_vcd
from kilter.measure.errors import BadInput
from kilter.signals.logic_lines import FLOATING, HIGH, LOW, UNKNOWN, LogicCapture

if hasattr(signal, "SIGPIPE"):
    signal.signal(signal.SIGPIPE, signal.SIG_IGN)  # vcdvcd lets a closed pipe end the whole process

LEVELS = {"0": LOW, "1": HIGH, "x": UNKNOWN, "z": FLOATING}


def read(text: str, tmp_path: Path) -> LogicCapture:
    path = tmp_path / "capture.vcd"
    path.write_text(text, "latin-1")
    return read_vcd(path)


def written(changes: list[tuple[int, int, str]], lines: int, width: int) -> str:
    """A file by the independent writer: `lines` single lines and one bus."""
    buffer = io.StringIO()
    with vcd.VCDWriter(buffer, timescale="10 ns", date="today") as writer:
        singles = [writer.register_var(f"top.part{i % 3}", f"d{i}", "wire", size=1) for i in range(lines)]
        bus = writer.register_var("top", "bus", "wire", size=width)
        for time, line, value in changes:
            if line < lines:
                writer.change(singles[line], time, value[-1])
            else:
                writer.change(bus, time, value)
    return buffer.getvalue()


CHANGES = st.lists(
    st.tuples(st.integers(0, 5), st.integers(0, 3), st.text("01xz", min_size=7, max_size=7)), min_size=1, max_size=60
)


@settings(max_examples=60, deadline=None)
@given(CHANGES)
def test_against_an_independent_writer_and_reader(steps: list[tuple[int, int, str]]) -> None:
    changes, now = [], 0
    for step, line, value in steps:
        now += step
        changes.append((now, line, value))
    text = written(changes, 3, 7)
    path = Path("capture.vcd")
    found = _read_in_memory(text, path)
    judge = VCDVCD(vcd_string=text)
    for name, line in found.lines.items():
        _same_line(line.times, [int(v) for v in line.levels], judge[name].tv, found.start)
    for name, bus in found.buses.items():
        reference = judge[f"{name}[6:0]"] if f"{name}[6:0]" in judge.references_to_ids else judge[name]
        for time, bits in reference.tv:
            at = np.searchsorted(bus.times, max(time, found.start), "right") - 1
            full = bits.rjust(7, bits[0] if bits[0] in "xz" else "0")
            if time == _last_at(reference.tv, time)[0] and bits == _last_at(reference.tv, time)[1]:
                assert _bits(bus, at) == full, (name, time)


def _read_in_memory(text: str, path: Path) -> LogicCapture:
    file = io.BytesIO(text.encode("latin-1"))
    return reader._read(file, path)


def _last_at(changes: list[tuple[int, str]], time: int) -> tuple[int, str]:
    return [one for one in changes if one[0] == time][-1]


def _bits(bus: object, at: int) -> str:
    letters = []
    for bit in reversed(range(bus.width)):  # type: ignore[attr-defined]
        high, unknown, floating = (
            bool(int(plane[at]) >> bit & 1)
            for plane in (bus.values, bus.unknown, bus.floating)  # type: ignore[attr-defined]
        )
        letters.append("z" if floating else "x" if unknown else "1" if high else "0")
    return "".join(letters)


def _same_line(times: np.ndarray, levels: list[int], judged: list[tuple[int, str]], start: int) -> None:
    """The judge lists every change, also repeated values and several at one moment; the last of a moment counts."""
    wanted: list[tuple[int, int]] = []
    for time, value in dict(judged).items():
        level = LEVELS[value]
        if not wanted or wanted[-1][1] != level:
            wanted.append((max(time, start), level))
    assert list(zip(times.tolist(), levels, strict=True)) == wanted


def test_pieces_make_no_difference(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(4)
    body = "".join(
        f"#{10 * i}\n{rng.integers(2)}!\nb{rng.integers(256):b} b\n{'r1.5 r' if i % 7 == 0 else ''}\n"
        for i in range(900)
    )
    text = vcd_text(body, "$var wire 1 ! clk $end $var wire 8 b bus [7:0] $end $var real 64 r volts $end")
    whole = read(text, tmp_path)
    monkeypatch.setattr(reader, "PIECE", 97)
    parts = read(text, tmp_path)
    assert np.array_equal(whole.lines["top.clk"].times, parts.lines["top.clk"].times)
    assert np.array_equal(whole.buses["top.bus"].values, parts.buses["top.bus"].values)
    assert np.array_equal(whole.numbers["top.volts"].times, parts.numbers["top.volts"].times)
    assert (whole.end, whole.step) == (parts.end, parts.step) == (8990, 10)


@pytest.mark.parametrize(
    ("written_bits", "full"), [("10", "0010"), ("X10", "XX10"), ("ZX0", "ZZX0"), ("0X10", "0X10"), ("1", "0001")]
)
def test_left_extension(written_bits: str, full: str, tmp_path: Path) -> None:
    """Table of the left extension, IEEE 1364-2005, 18.2.1 (from memory): 0 and 1 extend by 0, X by X, Z by Z."""
    found = read(vcd_text(f"#1\nb{written_bits} !\n#2\n", "$var reg 4 ! v [3:0] $end"), tmp_path)
    assert _bits(found.buses["top.v"], 0) == full.lower()


@pytest.mark.parametrize(
    "identifier", ["b", "r", "B1", "#", "#1", "0", "1", "$", "x", '"', "~~", "b1", "longer_than_8_letters"]
)
def test_identifiers_that_look_like_something_else(identifier: str, tmp_path: Path) -> None:
    """Any printable letters may make an identifier (IEEE 1364-2005, 18.2.3)."""
    variables = f"$var wire 1 {identifier} d $end $var wire 2 {identifier}b e [1:0] $end"
    body = f"#0\n0{identifier}\nb0 {identifier}b\n#5\n1{identifier}\nb11 {identifier}b b1 {identifier}b\n#9\n"
    found = read(vcd_text(body, variables), tmp_path)
    assert found.lines["top.d"].times.tolist() == [0, 5]
    assert found.buses["top.e"].values.tolist() == [0, 1]


def test_scopes_aliases_and_single_bits(tmp_path: Path) -> None:
    variables = (
        "$scope module u1 $end $var wire 1 ! a $end $upscope $end $var wire 1 ! b $end $var wire 1 % bus [3] $end"
    )
    found = read(vcd_text("#0 0! 1% #7 1!\n", variables), tmp_path)
    assert list(found.lines) == ["top.u1.a", "top.b", "top.bus[3]"]
    assert found.lines["top.b"].times.tolist() == [0, 7]


def test_dump_off_is_a_gap(tmp_path: Path) -> None:
    body = "#0\n$dumpvars\n1!\n$end\n#10\n$dumpoff\nx!\n$end\n#30\n$dumpon\n1!\n$end\n#40\n"
    found = read(vcd_text(body), tmp_path)
    assert found.gaps == ((10, 30),)
    assert found.lines["top.clk"].levels.tolist() == [HIGH, UNKNOWN, HIGH]
    assert any("switched off" in words for words in found.warnings)


def test_values_before_any_time_count_from_the_start(tmp_path: Path) -> None:
    found = read(vcd_text("$dumpvars 1! $end\n$comment 0! #99 $end\n#50\n0!\n#60\n"), tmp_path)
    assert found.lines["top.clk"].times.tolist() == [50]
    assert found.lines["top.clk"].levels.tolist() == [LOW]


@pytest.mark.parametrize(("scale", "tick"), [("1 s", 1.0), ("100us", 1e-4), ("10 ns", 1e-8), ("1fs", 1e-15)])
def test_time_scales(scale: str, tick: float, tmp_path: Path) -> None:
    assert read(vcd_text("#1\n1!\n", scale=scale), tmp_path).tick == pytest.approx(tick)


def test_cut_file_says_so(tmp_path: Path) -> None:
    found = read(vcd_text("#1\n1!\n#20\n0!\n#3"), tmp_path)
    assert found.end == 20
    assert any("middle of a line" in words for words in found.warnings)


def test_wide_vectors_and_strings_are_left_out_aloud(tmp_path: Path) -> None:
    variables = "$var wire 1 ! clk $end $var wire 65 w wide [64:0] $end $var string 1 s text $end"
    found = read(vcd_text(f"#1\n1!\nb{'1' * 65} w\nsHello s\n#2\n0!\n", variables), tmp_path)
    assert list(found.lines) == ["top.clk"]
    assert len(found.warnings) == 2


@pytest.mark.parametrize(
    ("text", "piece"),
    [
        (vcd_text("#5\n1?\n"), "'?'"),
        (vcd_text("#5\nhello\n"), "line 4"),
        (vcd_text("#5\n1!\n#4\n0!\n"), "#4 after a later one"),
        (vcd_text("#5x\n1!\n"), "#5x"),
        (vcd_text("#99999999999999999999\n1!\n"), "#9999"),
        (vcd_text("#1\nb10102 !\n", "$var wire 4 ! v $end"), "5 bits where the variable has 4"),
        (vcd_text("#1\nb102 !\n", "$var wire 4 ! v $end"), "the bit '2'"),
        (vcd_text("#1\nr1.2.3 !\n", "$var real 64 ! v $end"), "1.2.3"),
        (vcd_text("#1\n", scale="3 ns"), "3ns"),
        (vcd_text("#1\n", scale="1000000 years"), "1000000years"),
        (vcd_text("$comment never ends\n#1\n0!\n"), "$comment without $end"),
        (vcd_text("#1\nb1"), "middle"),
        ("$timescale 1 ns $end", "$enddefinitions"),
        ("$timescale 1 ns $end $enddefinitions $end\n#1\n", "no line"),
        (vcd_text("#1\n", "$var wire huge ! v $end"), "huge"),
        (vcd_text("#1\n", "$var wire 1 ! a $end $var wire 2 ! b $end"), "identifier '!'"),
        (vcd_text("#1\npD 6 6 <0\n"), "pD"),
    ],
)  # fmt: skip
def test_bad_files_are_refused_with_the_place(text: str, piece: str, tmp_path: Path) -> None:
    if piece == "middle":
        assert any(piece in words for words in read(text, tmp_path).warnings)
        return
    with pytest.raises(BadInput) as caught:
        read(text, tmp_path)
    assert piece in str(caught.value)
    assert "capture.vcd" in str(caught.value)
