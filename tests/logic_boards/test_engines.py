"""The plain and the compiled way of running say the same; what the stand-ins do; which faults bite where."""

from __future__ import annotations

from importlib.util import find_spec

import numpy as np
import pytest

from kilter.circuit.board import Board
from kilter.parts.kinds import modes_of, part_kind
from kilter.simulate.logic.live_board import LiveBoard, live_board
from kilter.simulate.logic.pictures import Pictures
from kilter.simulate.logic.running import run
from kilter.simulate.logic.running.run import Shown


@pytest.fixture(scope="module")
def live(controller: Board) -> LiveBoard:
    found = live_board(controller)
    assert found is not None
    return found


def some_pictures(board: Board, live: LiveBoard, every: int) -> list[tuple[object, ...]]:
    known = Pictures(board, live)
    faults = [(part.ref, mode.key) for part in board.parts.values() for mode in modes_of(part)][::every]
    sets = [known.of(board.states["on"], frozenset({fault})) for fault in faults]
    return [(), *(one.defects for pictures in sets for one in pictures if one.defects)]


@pytest.mark.skipif(find_spec("numba") is None, reason="numba is an optional extra")
def test_plain_and_compiled_agree(controller: Board, live: LiveBoard) -> None:
    sets = some_pictures(controller, live, 97)
    one, other = (
        run(live.netlist, live.stimulus, sets, counting=live.counting, engine=engine)
        for engine in ("plain", "compiled")
    )
    for name in ("low", "high", "released", "unknown", "fighting"):
        assert np.array_equal(getattr(one, name), getattr(other, name)), name


@pytest.fixture(scope="module")
def healthy(live: LiveBoard) -> Shown:
    return run(live.netlist, live.stimulus, counting=live.counting, nets=sorted(live.known_nets), engine="plain")


def moves(shown: Shown, net: str) -> bool:
    place = shown.nets.index(net)
    return bool((shown.low[0, place] & shown.high[0, place]).any())


def test_the_processor_walks_over_all_its_addresses_and_strobes(healthy: Shown) -> None:
    assert all(moves(healthy, f"PA{bit}") for bit in range(16))
    assert all(moves(healthy, net) for net in ("PRW", "SYNC", "PHI2", "ROMA", "ROMB", "RAMA", "RAMB"))


def test_reset_is_released_and_pulled_lines_rest(healthy: Shown) -> None:
    for net in ("RES", "RDY", "KEY0"):
        place = healthy.nets.index(net)
        assert healthy.high[0, place].all()
        assert not healthy.low[0, place].any()


def test_a_stopped_clock_stops_the_processor(controller: Board, live: LiveBoard) -> None:
    pictures = Pictures(controller, live).of(controller.states["on"], frozenset({("X1", "dead")}))
    shown = run(live.netlist, live.stimulus, [one.defects for one in pictures], nets=["PHI2", "PA0", "S0"])
    assert not (shown.low & shown.high).any()


def test_a_processor_held_by_its_ready_line_does_not_walk(controller: Board, live: LiveBoard) -> None:
    pictures = Pictures(controller, live).of(controller.states["on"], frozenset({("U1", "stuck_low 2")}))
    shown = run(live.netlist, live.stimulus, [one.defects for one in pictures], nets=["PA0", "PHI2"], engine="plain")
    walking = (shown.low & shown.high).any(axis=(0, 2))
    assert walking.tolist() == [False, True]


@pytest.mark.parametrize("ref", ["U1", "U8", "U10", "U15", "U24"])
def test_pin_modes_share_the_odds_of_their_kind(controller: Board, ref: str) -> None:
    part = controller.parts[ref]
    modes = modes_of(part)
    assert sum(mode.odds for mode in modes) == pytest.approx(part_kind(part.kind).odds)
    assert all(mode.odds > 0 for mode in modes)
    assert len({mode.key for mode in modes}) == len(modes)


def test_a_shorted_supply_leaves_nothing_working(controller: Board, live: LiveBoard) -> None:
    (picture,) = Pictures(controller, live).of(controller.states["on"], frozenset({("U8", "short")}))
    assert picture.unpowered
