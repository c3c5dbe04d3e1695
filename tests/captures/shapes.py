"""
Shapes of exported captures, built with our own numbers and names.

The lines before the numbers follow the structure of exports of different makers as met in public repositories (their
first lines were read there); no line of data is taken over. Each shape tells what is in it, counted by hand here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

ROWS = 400
STEP = 2e-6


@dataclass(frozen=True)
class Shape:
    """A file's bytes and what a reader must find: channel names, interval, unit and first value of each."""

    name: str
    content: bytes
    channels: tuple[str, ...]
    interval: float | None = STEP
    unit: str = "V"
    scale: float = 1.0
    rows: int = ROWS
    doubts: tuple[str, ...] = field(default=())


def wave(row: int, channel: int = 0) -> float:
    """The samples of every shape."""
    return round(1.5 * np.sin(0.13 * row + channel) + 0.25 * channel, 4)


def rows(form: Callable[[int], str], end: str = "\n") -> str:
    """All lines of numbers."""
    return end.join(form(row) for row in range(ROWS)) + end


def comma(value: float, form: str = ".8f") -> str:
    return format(value, form).replace(".", ",")


def shapes() -> list[Shape]:
    """All shapes."""
    made: list[Shape] = []

    def add(name: str, text: str, *channels: str, encoding: str = "utf-8", **said: object) -> None:
        made.append(Shape(name, text.encode(encoding), channels, **said))  # type: ignore[arg-type]

    def time(row: int) -> float:
        return -1e-4 + row * STEP

    def two(row: int) -> str:
        return f"{time(row):.9f},{wave(row)},{wave(row, 1)}"

    keyed = ("Sample Interval,CH1:0.0000020000000\nVertical Units,CH1:V,,,\nHorizontal Units,us,,,\nUnit No,X-1,,,\n"
             "Source,CH1\n")  # fmt: skip
    add("keys_second_volt", keyed + "Second,Volt\n" + rows(lambda r: f" {time(r):.11f},{wave(r):.5f}"), "CH1")
    keyed = ("Model,X\nFirmware Version,2.40\n\nHorizontal Units,s,\nSample Interval,2e-06,\nRecord Length,400,\n"
             "Probe Attenuation,1,\nVertical Units,V,\nVertical Scale,0.05,\n,,\n,,\nLabel,,\n")  # fmt: skip
    add(
        "keys_blank_time",
        keyed + "TIME,CH1,CH2\n" + rows(lambda r: f"{time(r):.4e},{wave(r)},{wave(r, 1)}"),
        "CH1",
        "CH2",
    )
    add("coarse_times", "Sample Interval,2e-06,\nLabel,,\nTIME,CH1,CH1 Peak Detect\n"
        + rows(lambda r: f"{-1.35e-2 + r * STEP:.5e},{wave(r)},{wave(r, 1)}"), "CH1", "CH1 Peak Detect")  # fmt: skip
    add("counted_millivolts", "Channel\t\t  :,CH1\nFrequency\t  :,F=  ?\nProbe attenuation\t  :,10X\n"
        "Time interval\t\t  :,2.00uS\n\nindex,CH1_Voltage(mV)\n"
        + rows(lambda r: f"{r},{1000 * wave(r):.2f}"), "CH1_Voltage(mV)")  # fmt: skip
    beside = ["Record Length,4.000000e+02", "Sample Interval,2.000000e-06", "Trigger Point,1.0e+03", ",", "Source,CH1",
              "Vertical Units,V", "Horizontal Units,s"]  # fmt: skip
    add(
        "remarks_beside",
        rows(lambda r: f"{beside[r] if r < len(beside) else ','},,{time(r):.12f},{wave(r):.5f},"),
        "channel 1",
    )
    add("start_increment", "X,CH1,Start,Increment,\nSequence,Volt,-1.000000e-04,2.000000e-06,\n"
        + rows(lambda r: f"{r},{wave(r):.2e},"), "CH1", scale=1.0)  # fmt: skip
    add("second_volt_row", "X,CH1,CH2,\nSecond,Volt,Volt,\n" + rows(lambda r: two(r) + ","), "CH1", "CH2")
    add("numbered_channels", "x-axis,1,2\nsecond,Volt,Volt\n"
        + rows(lambda r: f"{time(r):+.6E},{wave(r):+.4E},{wave(r, 1):+.4E}"), "1", "2")  # fmt: skip
    add(
        "bracketed_channels",
        "Time,X(CH1),X(CH2),\nSecond,Volt,Volt,\n" + rows(lambda r: two(r) + ","),
        "X(CH1)",
        "X(CH2)",
    )
    add(
        "number_and_time",
        "nr,time,ch1,ch2\n" + rows(lambda r: f"{r},{r * STEP:.6g},{wave(r)},{wave(r, 1)}"),
        "ch1",
        "ch2",
    )
    add("tabs", "sample\ttime\tch1\n" + rows(lambda r: f"{r}\t{r * STEP:.6g}\t{wave(r)}"), "ch1")
    add("decimal_comma", "Zeit;Kanal A;Kanal B\n(ms);(V);(V)\n\n"
        + rows(lambda r: ";".join(map(comma, (1e3 * time(r), wave(r), wave(r, 1))))), "Kanal A", "Kanal B")  # fmt: skip
    add("units_below", "Time,Channel A\n(us),(mV)\n\n"
        + rows(lambda r: f"{1e6 * time(r):.5f},{1e3 * wave(r):.5f}"), "Channel A")  # fmt: skip
    add("segments", "MAKER,unit,Waveform\nSegments,1,SegmentSize,400\nSegment,TrigTime,TimeSinceSegment1\n"
        "#1,01-Jan-2020 10:00:00,0\nTime,Ampl\n" + rows(lambda r: f"{time(r):.8e},{wave(r)}"), "Ampl")  # fmt: skip
    add("one_name_for_all", '"Channel Data","A 1","A 2"\n"Minimum (V) = ",-1,1\n'
        '"Time (s)","Voltage (V)","Voltage (V)"\n' + rows(two), "A 1", "A 2")  # fmt: skip
    add("nothing_tells_them_apart", "Time (s),Trace,trace\n" + rows(two), "Trace, column 1", "trace, column 2")
    add("blank_line_after_every_row", '"Time (s)","CH1 (V)"\r\n\r\n'
        + rows(lambda r: f'"{time(r):.9f}","{wave(r)}"\r\n', "\r\n"), "CH1 (V)")  # fmt: skip
    add("no_header", rows(two), "channel 1", "channel 2")
    add("one_column", rows(lambda r: f"{wave(r)}"), "channel 1", interval=None, doubts=("no sample interval",))
    add("rate_in_comment", "# Sample rate: 500 kSa/s\n# CH1 (V)\n" + rows(lambda r: f"{wave(r)}"), "CH1 (V)")
    add(
        "byte_order_mark",
        "Time(s),CH1(V)\r\n" + rows(lambda r: f"{time(r):.9f},{wave(r)}", "\r\n"),
        "CH1(V)",
        encoding="utf-8-sig",
    )
    add("utf16", "Time (s)\tCH1 (V)\n" + rows(lambda r: f"{time(r):.9f}\t{wave(r)}"), "CH1 (V)", encoding="utf-16")
    add("own_time_columns", "Time,CH1,Time,CH2\ns,V,s,V\n"
        + rows(lambda r: f"{time(r):.9f},{wave(r)},{time(r) + 1e-3:.9f},{wave(r, 1)}"), "CH1", "CH2")  # fmt: skip
    add("quotes", '"Time","CH1"\n"s","V"\n' + rows(lambda r: f'"{time(r):.9f}","{wave(r)}"'), "CH1")
    add("unit_in_words", "in s,C1 in V,C2 in V\n" + rows(lambda r: f"{time(r):.9E},{wave(r):.6E},{wave(r, 1):.6E}"),
        "C1 in V", "C2 in V")  # fmt: skip
    add("spaces", "# time/s  u/V\n" + rows(lambda r: f"  {time(r):.9e}   {wave(r): .6e}"), "u/V")
    add("carriage_returns", "Time,CH1\rs,V\r" + rows(lambda r: f"{time(r):.9f},{wave(r)}", "\r"), "CH1")
    add("current", "Time (s),I (mA)\n" + rows(lambda r: f"{time(r):.9f},{1e3 * wave(r):.4f}"), "I (mA)", unit="A")
    add("doubtful_rate", "Sample Rate: 2 mHz\nCH1\nV\n" + rows(lambda r: f"{wave(r)}"), "CH1", interval=None,
        doubts=("milli or mega",))  # fmt: skip
    return made
