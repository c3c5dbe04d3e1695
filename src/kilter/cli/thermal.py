"""`kilter thermal`: the temperature picture of an object beside those of known-good boards."""

from __future__ import annotations

import argparse
import sys
from itertools import zip_longest
from pathlib import Path
from typing import Any

from kilter.circuit.board import Board
from kilter.cli.layout import as_json
from kilter.cli.picture_words import corners_of, match_of, named_number, timed_file
from kilter.cli.thermal_text import plain, print_comparison
from kilter.measure.errors import BadInput
from kilter.services.compare_thermal import (
    UNREAD,
    View,
    compare_thermal,
    known_good_readings,
    rates,
    thermal_readings,
)
from kilter.services.place_outlines import place_outlines
from kilter.wiring.loading import load_board
from kilter.wiring.pictures import load_outlines, load_temperatures
from kilter.wiring.readings_out import write_readings

HELP = "a temperature picture beside those of known-good boards"
DESCRIPTION = (
    "Finds the known-good board in the object's temperature picture, takes the surroundings away, and says which parts "
    "run hotter or colder than known-good. Pictures are matrices of temperatures (CSV, 16-bit TIFF, NumPy)."
)


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    add = parser.add_argument
    add("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    add("--picture", required=True, metavar="FILE", help="temperatures of the object")
    add("--known-good", required=True, metavar="FILE", action="append", help="of a known-good board; may be repeated")
    add("--outlines", metavar="FILE", default="", help="where parts are; unless said, from the pads of the board file")
    add(
        "--match",
        metavar="WHERE=X,Y",
        action="append",
        default=[],
        help="a part or place of the outlines and its pixel on the first known-good picture; three or more",
    )
    add("--corners", metavar="'X,Y X,Y X,Y X,Y'", help="corners of the board on the object's picture, set by hand")
    add(
        "--known-good-corners",
        metavar="'...'",
        action="append",
        default=[],
        help="the same, for each known-good one",
    )
    add("--ambient", metavar="DEGC", type=float, help="surroundings of the object")
    add(
        "--known-good-ambient", metavar="DEGC", type=float, action="append", default=[], help="of each known-good board"
    )
    add("--before", metavar="FILE", help="the object in the same view before power")
    add("--known-good-before", metavar="FILE", action="append", default=[], help="the same of each known-good board")
    add("--unit", default="", help="of all pictures: degC, K, centikelvin, decikelvin or degF")
    add(
        "--at", metavar="SECONDS=FILE", action="append", default=[], help="the object after switching on; three or more"
    )
    add("--power", metavar="PART=WATT", action="append", default=[], help="what a part takes, for its junction")
    add(
        "--state", metavar="NAME", default="", help="state that the pictures were taken in; the powered one unless said"
    )
    add("--write", metavar="DIR", type=Path, help="write the readings of object and known-good boards into this folder")
    add("--json", action="store_true", help="print plain data instead of text")
    add("--plot", metavar="DIR", type=Path, help="also draw SVG and PNG pictures into this folder")


def run(chosen: argparse.Namespace) -> int:
    """Compares and prints; exit code 3 where parts could not be read."""
    if chosen.plot:
        from kilter.wiring.figures import require_plotting

        require_plotting()
    board = load_board(chosen.board)
    state = state_of(board, chosen.state)
    outlines = load_outlines(chosen.outlines, chosen.board, board)
    placed = place_outlines(outlines, [match_of(word) for word in chosen.match])
    series = [timed_file(word) for word in chosen.at]
    powers = dict(named_number(word, "a power") for word in chosen.power)
    found = compare_thermal(_object(chosen), _known_good(chosen), placed.parts)
    rising = (
        rates([(at, load_temperatures(name, chosen.unit)) for at, name in series], found, placed.parts)
        if series
        else {}
    )
    told: dict[str, Any] = plain(found, rising, powers, placed)
    print(as_json(told)) if chosen.json else print_comparison(board, found, rising, powers, placed)
    if chosen.write:
        _write(chosen.write, found, state)
    if chosen.plot:
        from kilter.wiring.thermal_plots import draw_thermal

        pictures = _object(chosen).image, _known_good(chosen)[0].image
        for path in draw_thermal(found, *pictures, placed.parts, board.name, chosen.plot):
            print(f"Drawn: {path}", file=sys.stderr)
    unread = [one.ref for one in found.parts if one.verdict == UNREAD]
    if unread:
        print(f"Unanswered: not read: {', '.join(unread)}", file=sys.stderr)
    return 3 if unread else 0


def state_of(board: Board, name: str) -> str:
    """The state named, else the only powered one."""
    if name:
        return board.state(name).name
    powered = [one.name for one in board.states.values() if one.powered]
    if len(powered) == 1:
        return powered[0]
    raise BadInput(
        "Cannot tell the state of the pictures",
        f"{len(powered)} powered states",
        ", ".join(board.states),
        "Name it with --state.",
    )


def _object(chosen: argparse.Namespace) -> View:
    before = load_temperatures(chosen.before, chosen.unit) if chosen.before else None
    corners = corners_of(chosen.corners) if chosen.corners else None
    return View(load_temperatures(chosen.picture, chosen.unit), chosen.ambient, before, corners)


def _known_good(chosen: argparse.Namespace) -> list[View]:
    lists = chosen.known_good_ambient, chosen.known_good_before, chosen.known_good_corners
    if any(len(one) > len(chosen.known_good) for one in lists):
        raise BadInput(
            "Cannot compare temperatures",
            f"more details than {len(chosen.known_good)} known-good pictures",
            "one of each for each picture, in the same order",
            "Leave out what is too much.",
        )
    return [
        View(
            load_temperatures(name, chosen.unit),
            ambient,
            load_temperatures(before, chosen.unit) if before else None,
            corners_of(corners) if corners else None,
        )
        for name, ambient, before, corners in zip_longest(chosen.known_good, *lists)
    ]


def _write(folder: Path, found: Any, state: str) -> None:
    files = {"object": thermal_readings(found, state)}
    files |= {f"known-good-{n}": rows for n, rows in enumerate(known_good_readings(found, state), 1)}
    for name, readings in files.items():
        print(f"Written: {write_readings(readings, folder / f'{name}.csv')}", file=sys.stderr)
