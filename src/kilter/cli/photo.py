"""`kilter photo`: outlines of parts on a photograph, and marks that become readings."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from kilter.circuit.board import Board
from kilter.cli.layout import as_json, columns, wrapped
from kilter.cli.picture_words import mark_of, match_of
from kilter.importers.photograph import Photograph, read_photograph
from kilter.services.mark_photograph import Marked, look_readings, mark_photograph
from kilter.services.place_outlines import Placed, place_outlines
from kilter.wiring.loading import load_board
from kilter.wiring.pictures import load_outlines
from kilter.wiring.readings_out import write_readings

HELP = "mark what an eye sees on a photograph"
DESCRIPTION = (
    "Places the outlines of the parts on a photograph by matched points and turns marks (bulged, burnt, corroded, "
    "cracked, leaked, missing, clean) into readings. The photograph itself is never changed. Needs the extra 'vision'."
)


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    add = parser.add_argument
    add("board", metavar="BOARD", help="board file, netlist, or folder with board.toml")
    add("--photo", required=True, metavar="FILE", help="JPEG, PNG, TIFF or WebP")
    add("--outlines", metavar="FILE", default="", help="where parts are; unless said, from the pads of the board file")
    add("--match", metavar="WHERE=X,Y", action="append", default=[], help="a part or place and its pixel; 3 or more")
    add("--mark", metavar="WHERE=SIGN", action="append", default=[], help="a part or pixel x,y and what is seen there")
    add("--state", metavar="NAME", default="", help="state that the photograph shows; the unpowered one unless said")
    add("--write", metavar="FILE", type=Path, help="write the marks as readings into this new file")
    add("--json", action="store_true", help="print plain data instead of text")
    add("--plot", metavar="DIR", type=Path, help="also draw the photograph with outlines and marks into this folder")


def run(chosen: argparse.Namespace) -> int:
    """Places, marks and prints."""
    if chosen.plot:
        from kilter.wiring.figures import require_plotting

        require_plotting()
    board = load_board(chosen.board)
    state = state_of(board, chosen.state)
    photo = read_photograph(Path(chosen.photo))
    outlines = load_outlines(chosen.outlines, chosen.board, board)
    placed = place_outlines(outlines, [match_of(word) for word in chosen.match])
    marked = mark_photograph([mark_of(word) for word in chosen.mark], placed.parts, _error(placed))
    print(as_json(_plain(photo, placed, marked))) if chosen.json else _print(photo, placed, marked)
    if chosen.write:
        readings = look_readings(marked, state, photo.source, photo.sha256)
        print(f"Written: {write_readings(readings, chosen.write)}", file=sys.stderr)
    if chosen.plot:
        from kilter.wiring.photo_plots import draw_photograph

        for path in draw_photograph(photo, placed.parts, marked, chosen.plot):
            print(f"Drawn: {path}", file=sys.stderr)
    return 0


def state_of(board: Board, name: str) -> str:
    """The state named, else the first unpowered one."""
    return board.state(name).name if name else next((s.name for s in board.states.values() if not s.powered), "off")


def _error(placed: Placed) -> float | None:
    return placed.placing.error if placed.placing is not None else None


def _print(photo: Photograph, placed: Placed, marked: tuple[Marked, ...]) -> None:
    print(f"{photo.source}: {photo.width} by {photo.height} pixels, SHA-256 {photo.sha256}")
    if photo.has_place:
        print(wrapped("The file says where it was taken. It is kept as it is; pictures drawn from it do not say it."))
    error = _error(placed)
    if placed.placing is not None and error is None:
        print(wrapped("As few points as will do: nothing tells how well the outlines fit. Match one more."))
    if error is not None:
        print(wrapped(f"The outlines lie about {error:.1f} pixels off; {placed.worst} fits least."))
    if marked:
        print(columns([("part", "seen", "")] + [(one.part, one.sign, _doubt(one)) for one in marked]))
    print(wrapped("Parts without a mark give no reading: not marked is not the same as clean."))


def _doubt(one: Marked) -> str:
    return f"doubtful: may be {' or '.join(one.others)}" if one.others else ""


def _plain(photo: Photograph, placed: Placed, marked: tuple[Marked, ...]) -> dict[str, object]:
    return {
        "photo": photo.source, "sha256": photo.sha256, "width": photo.width, "height": photo.height,
        "has_place": photo.has_place, "error": _error(placed),
        "residuals": list(placed.placing.residuals) if placed.placing is not None else [],
        "outlines": {ref: [list(corner) for corner in one.corners] for ref, one in placed.parts.items()},
        "marks": [{"part": m.part, "sign": m.sign, "place": list(m.place), "others": list(m.others)} for m in marked],
    }  # fmt: skip
