"""Tables of logic analysers in the shapes that exporters use; the truth is how they were made."""

from __future__ import annotations

from pathlib import Path

import pytest

from kilter.importers.logic_capture import read_logic_capture
from kilter.measure.errors import BadInput
from kilter.signals.line_activity import line_activity

STEPS = 400


def bits(n: int) -> tuple[int, int]:
    """A clock of ten steps and a line that rests."""
    return int(n % 10 < 5), 1


def rows(form: str) -> str:
    return "".join(form.format(t=n * 1e-6, n=n, c=bits(n)[0], r=bits(n)[1], w=f"0{bits(n)[1]}{bits(n)[0]}",
                               h=f"0x{2 * bits(n)[1] + bits(n)[0]:02X}", us=n,
                               comma=f"{n * 1e-6:.7f}".replace(".", ",")) for n in range(STEPS))  # fmt: skip


TABLES = {
    "time and channels": "Time [s],Clock,Reset\n" + rows("{t:.7f},{c},{r}\n"),
    "no unit": "Time,Clock,Reset\n" + rows("{t:.9e}, {c}, {r}\n"),
    "microseconds": "time(us),Clock,Reset\r\n" + rows("{us},{c},{r}\r\n"),
    "decimal comma": "\ufeffTime (s);Clock;Reset\n" + rows("{comma};{c};{r}\n"),
    "tabs and comments": "# made by hand\n# second line\nt (s)\tClock\tReset\n" + rows("{t:.7f}\t{c}\t{r}\n"),
    "rate instead of times": "; CSV, made\n; Samplerate: 1 MHz\nClock,Reset\n" + rows("{c},{r}\n"),
    "index and rate": "# sample rate: 1 MHz\nSample,Clock,Reset\n" + rows("{n},{c},{r}\n"),
    "a word of bits": "Time[s],Bus\n" + rows("{t:.7f},{w}\n"),
    "a hexadecimal word": "Time[s],Bus\n" + rows("{t:.7f},{h}\n"),
    "words for levels": "Time[s],Clock,Reset\n" + rows("{t:.7f},{c},{r}\n").replace(",1", ",H").replace(",0", ",L"),
    "no head": rows("{t:.7f},{c},{r}\n"),
}


@pytest.mark.parametrize("shape", TABLES)
def test_shapes(shape: str, tmp_path: Path) -> None:
    path = tmp_path / "capture.csv"
    path.write_text(TABLES[shape], "utf-8")
    capture = read_logic_capture(path)
    lines = list(capture.every_line().values())
    assert capture.step_s == pytest.approx(1e-6, rel=1e-6)
    clock, reset = (line_activity(lines[i], capture) for i in (0, 1))
    assert clock.frequency is not None
    assert clock.frequency.value == pytest.approx(100e3, rel=1e-6)
    assert reset.word == "high"


def test_rows_at_changes_only(tmp_path: Path) -> None:
    path = tmp_path / "changes.csv"
    path.write_text("Time[s],D0\n0.0,0\n0.0015,1\n0.004,0\n0.0055,1\n0.0071,0\n")
    capture = read_logic_capture(path)
    assert (capture.lines["D0"].times * capture.tick).tolist() == pytest.approx([0, 0.0015, 0.004, 0.0055, 0.0071])
    assert any("not evenly spaced" in words for words in capture.warnings)


@pytest.mark.parametrize(
    ("text", "piece"),
    [
        ("", "empty"),
        ("hello\nworld\n", "no lines of data"),
        ("Clock,Reset\n0,1\n1,1\n0,1\n", "without a time"),
        ("Time (fortnights),D0\n0.1,0\n0.2,1\n", "fortnights"),
        ("Time[s],Volts\n0.1,2.5\n0.2,2.6\n", "no column of logic levels"),
        ("Time[s],D0\n0.2,0\n0.1,1\n0.3,1\n", "data line 2"),
        ("Time[s],D0\n0.1,0\n0.2,1\nabc,1\n", "capture.csv line"),
        ("Time[s],D0\n0.1,0\n0.2,1\n0.3\n", "capture.csv line"),
        ("Time[s],D0\n0.0,0\n1e300,1\n", "capture of 1e+300"),
        ("Time[s],D0\n0.0,0\n1e999,1\n", "no finite number"),
    ],
)
def test_bad_tables_are_refused(text: str, piece: str, tmp_path: Path) -> None:
    path = tmp_path / "capture.csv"
    path.write_text(text)
    with pytest.raises(BadInput) as caught:
        read_logic_capture(path)
    assert piece in str(caught.value)
