"""`kilter logic`: what the lines of a logic capture do, and the readings that follow for a board."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from kilter.cli.layout import as_json
from kilter.cli.logic_text import logic_text
from kilter.cli.readings_text import write_readings
from kilter.importers.logic_capture import read_logic_capture
from kilter.measure.errors import BadInput
from kilter.services.capture_report import capture_report, channel_named
from kilter.services.read_logic_capture import CaptureReadings, CaptureView, look_at, readings_at
from kilter.wiring.loading import load_board

HELP = "what the lines of a logic capture do"
DESCRIPTION = (
    "Reads a VCD file, a zipped logic session or a table of a logic analyser. Says what every line does, follows "
    "resets, selects, address lines and buses, and turns lines into readings of a board."
)
UNANSWERED = 3


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument("capture", metavar="CAPTURE", type=Path, help="VCD, zipped logic session, or table (CSV)")
    parser.add_argument(
        "--board", metavar="BOARD", help="board whose points, nets or pins the channels are named after"
    )
    parser.add_argument(
        "--at", metavar="CHANNEL=PLACE", action="append", default=[], help="where a channel was clipped"
    )
    parser.add_argument("--state", default="", help="the powered state the object was in, where the board has several")
    parser.add_argument("--readings", metavar="FILE", type=Path, help="write the readings to this file, or add them")
    parser.add_argument(
        "--reset", metavar="CHANNEL", action="append", default=[], help="a reset line; CHANNEL=high if so"
    )
    parser.add_argument(
        "--selects", metavar="LIST", default="", help="select lines of one bus, with commas; low selects"
    )
    parser.add_argument("--address", metavar="LIST", default="", help="address lines, lowest first, with commas")
    parser.add_argument("--bus", metavar="LIST", default="", help="lines of a bus, lowest first, with commas")
    parser.add_argument("--time-base", metavar="PPM", type=float, help="uncertainty of the analyser's clock (100)")
    parser.add_argument("--plot", metavar="DIR", type=Path, help="draw the lines over time")
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Looks and prints; exit code 3 where a channel placed on the board gives no reading."""
    view = look_at(read_logic_capture(chosen.capture), time_base=_time_base(chosen.time_base))
    resets = {channel_named(view, name): level for name, level in map(_reset, chosen.reset)}
    report = capture_report(view, resets=resets, selects=_list(chosen.selects), address=_list(chosen.address),
                            bus=_list(chosen.bus))  # fmt: skip
    readings = _readings(chosen, view, resets)
    if readings is not None:
        report["readings"] = [
            {"point": one.point, "quantity": one.quantity, "value": one.value, "word": one.word,
             "uncertainty": one.uncertainty, "state": one.state, "doubtful": one.doubtful, "note": one.note}
            for one in readings.readings
        ]  # fmt: skip
        report["elsewhere"] = list(readings.elsewhere)
        report["silent"] = [{"line": name, "why": why} for name, why in readings.silent.items()]
        if chosen.readings:
            write_readings(chosen.readings, readings.readings)
    if chosen.plot:
        from kilter.wiring.logic_plots import draw_lines

        draw_lines(view, chosen.plot)
    print(as_json(report) if chosen.json else logic_text(report))
    return UNANSWERED if readings is not None and readings.silent else 0


def _readings(chosen: argparse.Namespace, view: CaptureView, resets: dict[str, int]) -> CaptureReadings | None:
    if not chosen.board:
        if chosen.readings or chosen.at:
            raise BadInput("Cannot turn the capture into readings", "no board", "a board with --board",
                           "Name the board that was measured.")  # fmt: skip
        return None
    said = dict(_pair(word) for word in chosen.at)
    return readings_at(view, load_board(chosen.board), said=said, state=chosen.state, resets=resets)


def _pair(word: str) -> tuple[str, str]:
    channel, equals, place = word.rpartition("=")
    if not equals:
        raise BadInput("Cannot place a channel on the board", f"'{word}'", "CHANNEL=PLACE, as D0=clk",
                       "Write the place behind '='; nothing behind it leaves the channel out.")  # fmt: skip
    return channel, place


def _reset(word: str) -> tuple[str, int]:
    channel, equals, level = word.rpartition("=")
    if not equals:
        return word, 0
    if level.lower() not in ("low", "high"):
        raise BadInput("Cannot follow a reset line", f"'{word}'", "CHANNEL, CHANNEL=low or CHANNEL=high",
                       "Say at which level it resets.")  # fmt: skip
    return channel, int(level.lower() == "high")


def _list(words: str) -> Sequence[str]:
    return [word.strip() for word in words.split(",") if word.strip()]


def _time_base(ppm: float | None) -> float | None:
    if ppm is not None and not 0.0 <= ppm < 1e5:
        raise BadInput("Cannot use the time base", f"{ppm:g} ppm", "0 to 100000 ppm", "Look at the analyser's sheet.")
    return None if ppm is None else ppm * 1e-6
