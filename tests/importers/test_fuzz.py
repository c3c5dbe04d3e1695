"""Whatever is thrown at a reader, a board, readings or BadInput comes out, and soon."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kilter.circuit.board import Board
from kilter.circuit.check import check_board
from kilter.importers.load import load_board, load_readings
from kilter.measure.errors import BadInput

SECONDS = 60.0
"""No text of this size may take longer, on a slow and shared machine."""

CIRCUIT = """title
.param k=2 m={k*3}
V1 in 0 DC 9 AC 1 SIN(0 1 1k)
R1 in out {m*1k} tc=0.1
C1 out 0 10u
D1 0 out dz area=2
Q1 out b 0 qn
XU1 in 0 b reg k=3
E1 e 0 out 0 2
F1 f 0 V1 3
.model dz d(bv=5.1 rs=2)
.model qn npn bf={100*k}
.subckt reg a b c k=1
R1 a c {k*1k}
R2 c b 1k
.ends reg
.op
.end
"""

BOARD = """kilter = 1
board = "Small"
netlist = "good.cir"
[parts.C1]
kind = "electrolytic"
tolerance = "20 %"
position = [42.0, 18.5]
[parts.U5]
kind = "logic"
pins = { vcc = "out", gnd = "0", q = "clk" }
draws = "3 mA"
[rails.V5]
net = "out"
nominal = "5 V"
low = "4.75 V"
high = "5.25 V"
[points.TP1]
net = "out"
label = "leg"
[blocks.clock]
kind = "oscillator"
parts = ["U5"]
rails = ["V5"]
outputs = { out = "clk" }
frequency = "4 MHz"
needs = [{ point = "out", low = "4 V", high = "8 V" }]
[states.on]
powered = true
supplies = { V1 = "9 V" }
unplugged = ["R1"]
[history]
labels = [{ says = "U5", mode = "", reliability = 0.3, text = "dead" }]
seen = [{ part = "C1", sign = "bulged" }]
"""

NETLIST = """(export (version "D")
 (components
  (comp (ref "R1") (value "1k") (libsource (lib d) (part R)))
  (comp (ref U1) (value 74LS00)))
 (nets
  (net (code 1) (name GND) (node (ref R1) (pin 1)) (node (ref U1) (pin 7) (pinfunction GND)))
  (net (code 2) (name "/~{A}") (node (ref R1) (pin 2)) (node (ref U1) (pin 1)))))
"""

READINGS = """point,quantity,value,uncertainty,instrument,state,note
out,voltage,4.98 V,0.02 V,dmm,on,
in,,9.1 V,,,,
out,level,pulsing,,logic probe,on,
R1,resistance,4k7,1 %,,off,
C1,look,bulged,,,,
C1,done,renewed,,,,
"""

READINGS_TOML = '[[reading]]\npoint = "out"\nvalue = "4.98 V"\n[[reading]]\npoint = "C1"\nvalue = "bulged"\n'

SHREDS = st.sampled_from(
    ["{", "}", "'", '"', "(", ")", "\n", "\n+", "\n.", "\n*", ".subckt", ".ends", ".include", "=", ",", ";", "\t", "0",
     "1e999", "-", "Ω", "\x00", "µ", "[[", "]]", "\r", "\\", "nan", "inf", "OL", "±", "é", "\u2028", "{1/0}", "params:",
     "1" * 400]
)  # fmt: skip


@st.composite
def mutated(draw: st.DrawFn, text: str) -> str:
    """A sound text with some pieces cut, doubled or replaced."""
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(text)))
        stop = min(len(text), start + draw(st.integers(0, 12)))
        text = text[:start] + draw(SHREDS | st.just(text[start:stop] * 2) | st.text(max_size=4)) + text[stop:]
    return text


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("fuzz")
    (folder / "good.cir").write_text(CIRCUIT)
    return folder


@pytest.fixture(scope="module")
def sound(folder: Path) -> Board:
    return load_board(folder / "good.cir")


def attempt(read: Callable[[], object]) -> object:
    """The result, or None where the input was refused as it should be."""
    started = time.monotonic()
    result: object = None
    refusal: BadInput | None = None
    try:
        result = read()
    except BadInput as error:
        refusal = error
    assert time.monotonic() - started < SECONDS
    if refusal is not None:
        assert all(part.strip() for part in (refusal.doing, refusal.found, refusal.allowed, refusal.do_next))
    return result


def attempt_board(path: Path, text: str | bytes) -> None:
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass"))
    board = attempt(lambda: load_board(path))
    if isinstance(board, Board):
        check_board(board)
        assert board.states
        assert all(element.part in board.parts or not element.part for element in board.elements.values())


FUZZ = settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def test_the_sound_texts_are_sound(folder: Path, sound: Board) -> None:
    (folder / "sound.toml").write_text(BOARD)
    (folder / "sound.net").write_text(NETLIST)
    (folder / "sound.csv").write_text(READINGS)
    (folder / "readings.toml").write_text(READINGS_TOML)
    assert load_board(folder / "sound.toml").blocks
    assert load_board(folder / "sound.net").parts
    assert len(load_readings(folder / "sound.csv", sound)) == 6
    assert len(load_readings(folder / "readings.toml", sound)) == 2


@FUZZ
@given(text=mutated(CIRCUIT) | st.text(max_size=200) | st.binary(max_size=200))
def test_spice(folder: Path, text: str | bytes) -> None:
    attempt_board(folder / "fuzz.cir", text)


@FUZZ
@given(text=mutated(BOARD) | st.text(max_size=200) | st.binary(max_size=200))
def test_board_file(folder: Path, text: str | bytes) -> None:
    attempt_board(folder / "fuzz.toml", text)


@FUZZ
@given(text=mutated(NETLIST) | st.text(alphabet='() "\\|~{}ab1\n', max_size=300) | st.binary(max_size=200))
def test_netlist(folder: Path, text: str | bytes) -> None:
    attempt_board(folder / "fuzz.net", text)


@FUZZ
@given(text=mutated(READINGS) | st.text(max_size=200) | st.binary(max_size=200))
def test_readings_csv(folder: Path, sound: Board, text: str | bytes) -> None:
    path = folder / "fuzz.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass"))
    attempt(lambda: load_readings(path, sound))


@FUZZ
@given(text=mutated(READINGS_TOML) | st.binary(max_size=200))
def test_readings_toml(folder: Path, sound: Board, text: str | bytes) -> None:
    path = folder / "fuzz_readings.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass"))
    attempt(lambda: load_readings(path, sound))


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
    | st.sampled_from(["out", "R1", "5 V", "0"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


def as_toml(value: object) -> str:
    """A value in TOML; what TOML has no word for becomes a text."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, list):
        return "[" + ", ".join(map(as_toml, value)) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{quoted(key)} = {as_toml(one)}" for key, one in value.items()) + "}"
    return quoted(str(value))


def quoted(text: str) -> str:
    """A TOML text; characters that TOML forbids are left out."""
    kept = "".join(one for one in text if one.isprintable() and one not in '"\\' and not "\ud800" <= one <= "\udfff")
    return f'"{kept}"'


LINES = [line.split(" = ", 1)[0] for line in BOARD.splitlines() if " = " in line]


@FUZZ
@given(key=st.sampled_from(LINES), value=VALUES)
def test_board_file_with_values_of_any_type(folder: Path, key: str, value: object) -> None:
    """TOML that is sound as TOML, with one key's value replaced by another of any shape."""
    lines = [f"{key} = {as_toml(value)}" if line.startswith(f"{key} = ") else line for line in BOARD.splitlines()]
    attempt_board(folder / "fuzz_typed.toml", "\n".join(lines))


@pytest.mark.parametrize(
    "text",
    ["t\n" + "R1 a 0 1k\n" * 3, "t\n" + "".join(f"R{n} n{n} n{n + 1} 1\n" for n in range(20_000)),
     "t\n.param " + " ".join(f"p{n}={{p{n + 1}+1}}" for n in range(2_000)) + "\nR1 a 0 {p0}\n",
     "t\nR1 a 0 " + "{" * 5_000, "t\nR1 a 0 {" + "(" * 5_000 + "}", "t\n" + "+ a" * 5_000,
     "t\nR1 a 0 1" + " x" * 50_000,
     "t\nR1 a 0 1k" + "'" * 20_001, "t\n.func f(x) {f(x)+f(x)}\nR1 a 0 {f(1)}\n", "t\n.model d d(" + "a=" * 20_000],
    ids=range(10),
)  # fmt: skip
def test_large_and_deep_netlists_end(folder: Path, text: str) -> None:
    attempt_board(folder / "large.cir", text)


LISTS = ["(" * 100_000, "(a" + " (b)" * 50_000 + ")", '(a "' + "\\" * 99_999, "|" * 50_000]


@pytest.mark.parametrize("text", LISTS, ids=range(4))
def test_large_and_deep_lists_end(folder: Path, text: str) -> None:
    attempt_board(folder / "large.net", text)
