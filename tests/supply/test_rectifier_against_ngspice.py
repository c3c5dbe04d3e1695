"""
Ripple, valley, ramp and inrush against ngspice transients, on random supplies with real diode curves.

Authority: ngspice, run here with its own silicon diodes (exponential, with series resistance), which the fixed drop of
our own steps only stands for. Asked: within 5 %.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from math import sqrt
from pathlib import Path

import numpy as np
import pytest

from kilter.measure.errors import OutOfRange
from kilter.safety.supply.rectifier import RectifierSupply, ripple_bound, settle, switch_on

pytestmark = [
    pytest.mark.ngspice,
    pytest.mark.skipif(shutil.which("ngspice") is None, reason="the ngspice program is not installed"),
]

DIODE = ".model silicon D(is=1e-9 n=1.6 rs=0.03)"
COUNT = 20


def random_supplies(seed: int = 5) -> list[RectifierSupply]:
    """Small transformers of 6 to 24 V, 3 to 20 VA, with reservoirs of 1 to 4 mF per ampere."""
    random = np.random.default_rng(seed)
    found = []
    for _ in range(COUNT):
        rms, power = random.uniform(6, 24), random.uniform(3, 20)
        most = power / rms
        resistance = random.uniform(0.08, 0.25) * rms / most + 0.06
        current = random.uniform(0.2, 0.6) * most
        farads = random.uniform(1e-3, 4e-3) * max(current, 0.1)
        hertz = float(random.choice([50.0, 60.0]))
        found.append(RectifierSupply(rms * sqrt(2), hertz, resistance, 1.6, farads, current))
    return found


SUPPLIES = random_supplies()
SETTLED, STARTED = settle(SUPPLIES), switch_on(SUPPLIES)


def transient(one: RectifierSupply, folder: Path, *, start: bool) -> dict[str, float]:
    """Measured by ngspice: settled reservoir, or the first pulse of a switch-on at the peak of the mains."""
    stop = 12 / one.hertz if start else 40 / one.hertz
    load, phase = (0.0, 90) if start else (one.current, 0)
    source = f"V1 s b sin(0 {one.peak} {one.hertz} 0 0 {phase})"
    resistance = one.resistance - 2 * 0.03
    measure = (
        f"meas tran peak max i(VS) from=0 to={stop}\nmeas tran first max v(out) from=0 to={0.5 / one.hertz}"
        if start
        else f"meas tran top max v(out) from={stop - 2 / one.hertz} to={stop}\n"
        f"meas tran valley min v(out) from={stop - 2 / one.hertz} to={stop}\n"
        f"meas tran mean avg v(out) from={stop - 2 / one.hertz} to={stop}"
    )
    text = f"""rectifier
{source}
RS s a {resistance}
RG b 0 1meg
D1 a p silicon
D2 b p silicon
D3 0 a silicon
D4 0 b silicon
VS p out 0
C1 out 0 {one.capacitance} ic=0
I1 out 0 {load}
{DIODE}
.options reltol=1e-4
.control
tran {1 / one.hertz / 2000} {stop} 0 {1 / one.hertz / 1000} uic
{measure}
.endc
.end
"""
    (folder / "rectifier.cir").write_text(text)
    done = subprocess.run(["ngspice", "-b", "rectifier.cir"], cwd=folder, capture_output=True, text=True, check=False,
                          timeout=60)  # fmt: skip
    return {name: float(value) for name, value in re.findall(r"^(\w+)\s+=\s+([-+\d.e]+)", done.stdout, re.MULTILINE)}


@pytest.mark.parametrize("number", range(COUNT))
def test_settled_reservoir(number: int, tmp_path: Path) -> None:
    one, mine = SUPPLIES[number], SETTLED[number]
    spice = transient(one, tmp_path, start=False)
    assert mine.valley == pytest.approx(spice["valley"], rel=0.05)
    assert mine.top == pytest.approx(spice["top"], rel=0.05)
    assert mine.mean == pytest.approx(spice["mean"], rel=0.05)
    assert mine.top - mine.valley == pytest.approx(spice["top"] - spice["valley"], rel=0.05)
    assert mine.top - mine.valley < ripple_bound(one)


@pytest.mark.parametrize("number", range(COUNT))
def test_switch_on(number: int, tmp_path: Path) -> None:
    """Peak of the inrush, and how far the reservoir has come after half a period."""
    one, mine = SUPPLIES[number], STARTED[number]
    spice = transient(one, tmp_path, start=True)
    assert mine.peak == pytest.approx(spice["peak"], rel=0.05)
    assert mine.peak <= mine.bound
    assert mine.i2t <= mine.i2t_bound * 1.05


def test_side_by_side_is_as_one_by_one() -> None:
    alone = [settle([one])[0] for one in SUPPLIES[:4]]
    for one, both in zip(alone, settle(SUPPLIES[:4]), strict=True):
        assert both.valley == pytest.approx(one.valley, rel=1e-3)


def test_charge_is_conserved() -> None:
    """What the source brings on average is what the load draws: the reservoir ends where it began."""
    one = SUPPLIES[0]
    found = settle([one])[0]
    assert found.source_current**2 == pytest.approx(found.ripple_current**2 + one.current**2, rel=0.01)


@pytest.mark.parametrize(
    ("field", "value"), [("capacitance", 0.0), ("hertz", -50.0), ("resistance", float("nan")), ("current", -1.0)]
)
def test_impossible_supplies_are_refused(field: str, value: float) -> None:
    with pytest.raises(OutOfRange, match="Cannot work out the ripple"):
        settle([RectifierSupply(**{**SUPPLIES[0].__dict__, field: value})])


def test_a_load_that_empties_the_reservoir_is_refused() -> None:
    with pytest.raises(OutOfRange, match="empties"):
        settle([RectifierSupply(14.0, 50.0, 1.0, 1.4, 100e-6, 5.0)])
