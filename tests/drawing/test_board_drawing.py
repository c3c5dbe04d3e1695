"""The drawing of a board, and a photograph behind it: expected places come from maps that the tests choose."""

from __future__ import annotations

from math import cos, radians, sin

import numpy as np
import pytest

from kilter.circuit.board import Board, Point
from kilter.records.part import Part
from kilter.services.board_drawing import Drawing, draw_board, on_photograph, where_to_probe

SPOTS = {"R1": (10.0, 20.0), "C2": (80.0, 25.0), "U3": (40.0, 90.0), "Q4": (70.0, 70.0)}


def board(**more: object) -> Board:
    parts = {
        ref: Part(ref, "resistor", {"1": "a", "2": "0"} if ref in ("R1", "C2") else {"1": "b"}, position=spot)
        for ref, spot in SPOTS.items()
    }
    parts["X9"] = Part("X9", "resistor", {"1": "c"})
    points = {"TP1": Point("TP1", "b", position=(33.0, 44.0)), "A": Point("A", "a")}
    return Board("test", parts=parts, points=points, **more)  # type: ignore[arg-type]


def drawn() -> Drawing:
    found = draw_board(board(), {"R1": 0.7})
    assert found is not None
    return found


def photographed(x: float, y: float) -> tuple[float, float]:
    """Turned by 12 degrees, 9 pixels a millimetre, moved: where a place of the board is on an imagined photograph."""
    turn = radians(12)
    return 300 + 9 * (x * cos(turn) - y * sin(turn)), 200 + 9 * (x * sin(turn) + y * cos(turn))


def test_parts_without_a_position_are_counted_not_drawn() -> None:
    assert {one.ref for one in drawn().parts} == set(SPOTS)
    assert drawn().missing == 1
    assert {one.ref: one.warmth for one in drawn().parts}["R1"] == 0.7


def test_a_board_without_positions_has_no_drawing() -> None:
    assert draw_board(Board("bare", parts={"R1": Part("R1", "resistor", {})}), {}) is None


@pytest.mark.parametrize(("point", "spot", "parts", "places"), [
    ("TP1", (33.0, 44.0), frozenset(), ("U3.1", "Q4.1")),  # a place of its own
    ("A", None, {"R1", "C2"}, ("R1.1", "C2.1")),  # the pins on its net
    ("U3.1", (40.0, 90.0), {"U3"}, ("U3.1",)),  # a pin
    ("C2", (80.0, 25.0), {"C2"}, ("C2",)),  # a part
])  # fmt: skip
def test_where_the_probe_goes(
    point: str, spot: tuple[float, float] | None, parts: set[str], places: tuple[str, ...]
) -> None:
    assert where_to_probe(board(), point) == (spot, parts, places)


def test_a_photograph_is_turned_back_to_the_board() -> None:
    """The matrix of the page takes every pixel of the imagined photograph back to its place on the board."""
    matches = [(ref, *photographed(*spot)) for ref, spot in SPOTS.items()]
    behind = on_photograph(drawn(), board(), matches, 1600, 1200, "/picture/").photo
    assert behind is not None
    a, b, c, d, e, f = map(float, behind.matrix.split())
    for x, y in [(0.0, 0.0), (100.0, 5.0), (55.5, 77.7)]:
        u, v = photographed(x, y)
        assert (a * u + c * v + e, b * u + d * v + f) == pytest.approx((x, y), abs=1e-3)
    assert behind.error == pytest.approx(0.0, abs=1e-6)


def test_the_drawing_then_shows_the_whole_photograph() -> None:
    matches = [(ref, *photographed(*spot)) for ref, spot in SPOTS.items()]
    found = on_photograph(drawn(), board(), matches, 1600, 1200, "/picture/")
    area = found.width * found.height
    assert area >= 1600 * 1200 / 81.0  # at 9 pixels a millimetre, and more for the turn
    assert found.parts == drawn().parts


def test_a_place_that_was_pressed_wrongly_shows() -> None:
    matches = [(ref, *photographed(*spot)) for ref, spot in SPOTS.items()]
    matches[0] = (matches[0][0], matches[0][1] + 60.0, matches[0][2])
    behind = on_photograph(drawn(), board(), matches, 1600, 1200, "/picture/").photo
    assert behind is not None
    assert behind.error is not None
    assert behind.error > 5


@pytest.mark.parametrize("count", [0, 1, 2])
def test_too_few_places_leave_the_drawing_as_it_is(count: int) -> None:
    matches = [(ref, *photographed(*spot)) for ref, spot in list(SPOTS.items())[:count]]
    assert on_photograph(drawn(), board(), matches, 1600, 1200, "/picture/") == drawn()


def test_places_on_one_line_leave_it_as_it_is() -> None:
    line = [("R1", 0.0, 0.0), ("C2", 100.0, 100.0), ("U3", 200.0, 200.0)]
    assert on_photograph(drawn(), board(), line, 1600, 1200, "/picture/") == drawn()


def test_names_that_the_board_lacks_are_left_out() -> None:
    matches = [("Z1", 1.0, 2.0), ("X9", 5.0, 5.0), *((ref, *photographed(*spot)) for ref, spot in SPOTS.items())]
    behind = on_photograph(drawn(), board(), matches, 1600, 1200, "/picture/").photo
    assert behind is not None
    assert np.allclose(behind.error or 0.0, 0.0, atol=1e-6)
