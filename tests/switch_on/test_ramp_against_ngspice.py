"""
Closed loop: the ramp is walked in ngspice with a short built in, and every healthy part keeps within its rating.

Authority: ngspice, which also measures the heat of every part by ammeters in its pins; nothing of our own engine takes
part once the plan is made.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from random_supplies import limited_point, made, walk

from kilter.safety.first_power.stress import loads
from kilter.safety.first_power.supply_sweep import sweep_supply
from kilter.services.plan_switch_on import plan_switch_on
from kilter.simulate.ngspice.worker import NgspiceWorker

pytestmark = pytest.mark.ngspice

BOARDS = 50


@pytest.fixture(scope="module")
def worker() -> Iterator[NgspiceWorker]:
    with NgspiceWorker() as one:
        yield one


@pytest.mark.parametrize("seed", range(BOARDS))
def test_ramp_stops_before_a_healthy_part_bears_too_much(seed: int, worker: NgspiceWorker, tmp_path: Path) -> None:
    one = made(seed, worker)
    ramp = plan_switch_on(one.write(tmp_path)).whole
    assert ramp is not None
    outcome = walk(one, ramp, worker)
    assert outcome.times <= 1.0, f"{outcome.part} with {one.short}"
    assert outcome.stopped is not None or outcome.times <= 1.0


def test_most_of_these_shorts_overload_something_where_nothing_limits_the_current(worker: NgspiceWorker) -> None:
    """Else the test above would show little: switched on at once from a strong supply, parts do burn."""
    burnt = 0
    for seed in range(BOARDS):
        one = made(seed, worker)
        _, heat, _ = limited_point(one, one.supply, np.inf, worker)
        burnt += any(watts > one.watts[ref] for ref, watts in heat.items() if ref != one.short[0])
    assert burnt > BOARDS // 2


@pytest.mark.parametrize("seed", range(0, BOARDS, 5))
def test_healthy_board_goes_all_the_way_up(seed: int, worker: NgspiceWorker, tmp_path: Path) -> None:
    one = made(seed, worker)
    ramp = plan_switch_on(one.write(tmp_path)).whole
    assert ramp is not None
    assert walk(one, ramp, worker, shorted=False).stopped is None


@pytest.mark.parametrize("seed", range(0, BOARDS, 5))
def test_heat_of_every_part(seed: int, worker: NgspiceWorker, tmp_path: Path) -> None:
    """Within 2 % and 0.1 mW of the ammeters of ngspice, at half and at full supply."""
    one = made(seed, worker)
    board = one.write(tmp_path)
    swept = sweep_supply(board, board.states["on"], ["V1"], ())
    mine = loads(board, swept.equations, swept.nominal)
    for place in (9, 19):
        _, heat, _ = limited_point(one, one.supply * swept.shares[place], np.inf, worker, shorted=False)
        for ref, watts in heat.items():
            if ref[0] != "C":
                assert mine[ref].watts[place] == pytest.approx(watts, rel=0.02, abs=1e-4), ref
