"""Wear of reservoirs and cells: series resistance against ngspice and published figures, sources beside them."""

from __future__ import annotations

import re
import shutil
import subprocess
from math import pi
from pathlib import Path

import pytest

from kilter.cli.main import run
from kilter.measure.errors import BadInput
from kilter.safety.supply.cells import chemistries, hold_hours, leak_chance, share_left
from kilter.safety.supply.electrolytic import equivalent_resistance
from kilter.safety.supply.esr import core_heat, new_esr, suspicious_esr
from kilter.safety.supply.rectifier import RectifierSupply, one_period, settle, switch_on

NGSPICE = pytest.mark.skipif(shutil.which("ngspice") is None, reason="the ngspice program is not installed")
CASES = [
    (1.0, 2200e-6, 0.08, 0.05), (1.0, 2200e-6, 2.0, 0.05),
    (0.1, 2200e-6, 0.08, 0.08), (0.1, 440e-6, 0.08, 0.08),  # little current: diodes drop less than the fixed 1.6 V
]  # fmt: skip


def simulated_ripple(current: float, farads: float, esr: float, folder: Path) -> float:
    """Peak to peak by ngspice: 17 V peak behind 0.5 ohm, 50 Hz bridge of silicon diodes."""
    text = f"""rectifier
V1 s b sin(0 17 50)
RS s a 0.5
RG b 0 1meg
D1 a p silicon
D2 b p silicon
D3 0 a silicon
D4 0 b silicon
R1 p c {esr}
C1 c 0 {farads} ic=14
I1 p 0 {current}
.model silicon D(is=1e-9 n=1.6 rs=0.01)
.options reltol=1e-4
.control
tran 10u 0.8 0 20u uic
meas tran top max v(p) from=0.76 to=0.8
meas tran valley min v(p) from=0.76 to=0.8
.endc
.end
"""
    (folder / "r.cir").write_text(text)
    done = subprocess.run(["ngspice", "-b", "r.cir"], cwd=folder, capture_output=True, text=True, check=False)
    found = dict(re.findall(r"^(top|valley)\s*=\s*([-+0-9.e]+)", done.stdout, re.M))
    return float(found["top"]) - float(found["valley"])


@NGSPICE
@pytest.mark.ngspice
@pytest.mark.parametrize(("current", "farads", "esr", "share"), CASES)
def test_ripple_of_a_worn_reservoir(current: float, farads: float, esr: float, share: float, tmp_path: Path) -> None:
    """Authority: ngspice transient with its own diode curves; within 5 % where the diodes carry their usual current."""
    ours = settle([RectifierSupply(17.0, 50.0, 0.52, 1.6, farads, current, esr=esr)])[0]
    assert ours.top - ours.valley == pytest.approx(simulated_ripple(current, farads, esr, tmp_path), rel=share)


def test_a_new_and_a_worn_reservoir_are_told_apart() -> None:
    """Series resistance alone more than doubles the ripple: 2.95 to 6.20 V by ngspice for this circuit."""
    new, worn = settle([RectifierSupply(17.0, 50.0, 0.5, 1.6, 2200e-6, 1.0, esr=esr) for esr in (0.08, 2.0)])
    assert worn.top - worn.valley > 2 * (new.top - new.valley)
    assert worn.valley < new.valley


def test_charge_balances_with_series_resistance() -> None:
    """Charge balance of a capacitor: over a period the source gives what the load draws."""
    supply = RectifierSupply(17.0, 50.0, 0.5, 1.6, 2200e-6, 0.7, esr=1.0)
    times, volts, amps = one_period(supply)
    assert float(amps.mean()) == pytest.approx(0.7, rel=2e-3)
    assert times[-1] == pytest.approx(0.02)
    assert volts.min() == pytest.approx(settle([supply])[0].valley, abs=0.01)


def test_series_resistance_limits_the_inrush() -> None:
    """Ohm's law: an empty reservoir behind R + ESR."""
    found = switch_on([RectifierSupply(17.0, 50.0, 0.5, 1.6, 2200e-6, 0.0, esr=0.5)])[0]
    assert found.bound == pytest.approx((17.0 - 1.6) / 1.0)
    assert found.peak <= found.bound


@pytest.mark.parametrize(("farads", "volts", "ends"), [
    (10e-6, 25.0, (5.3, 14.0)),  # two published tables of new electrolytics, second-hand
    (100e-6, 16.0, (0.7, 1.6)),  # the same two
    (1000e-6, 16.0, (0.09, 0.16)),  # the same two
    (4700e-6, 16.0, (0.03, 0.20)),  # the same two, which cross there
])  # fmt: skip
def test_series_resistance_of_new_parts(farads: float, volts: float, ends: tuple[float, float]) -> None:
    assert new_esr(farads, volts) == pytest.approx(ends)
    assert suspicious_esr(farads, volts) == pytest.approx(2 * ends[1])


@pytest.mark.parametrize(("farads", "volts"), [(1e-6, 16.0), (10e-3, 16.0), (100e-6, 400.0), (100e-6, None)])
def test_outside_the_tables_nothing_is_known(farads: float, volts: float | None) -> None:
    assert new_esr(farads, volts) is None
    assert suspicious_esr(farads, volts) is None


def test_loss_tangent_and_heat() -> None:
    """tan d = 2 pi f C R by definition; and 1.46 A in 0.08 ohm is 0.17 W by Joule's law."""
    assert 2 * pi * 120 * 1000e-6 * equivalent_resistance(0.2, 120.0, 1000e-6) == pytest.approx(0.2)
    assert equivalent_resistance(0.2, 120.0, 1000e-6) == pytest.approx(0.265, abs=5e-4)
    assert core_heat(1.46, 0.08) == pytest.approx(0.1705, abs=1e-4)


def test_cells_by_hand() -> None:
    """Powers and exponentials worked by hand from the rates in the data, which are from memory."""
    assert share_left("alkaline", 1.0) == pytest.approx(0.9739, abs=1e-4)
    assert hold_hours("lithium_manganese", 0.0, 0.22, 20e-6) == pytest.approx(11_000)
    assert leak_chance("alkaline", 15.0) == pytest.approx(1 - 0.301, abs=1e-3)
    for kind in chemistries():
        assert leak_chance(kind, 0.0) == 0.0
        assert share_left(kind, 10.0) < share_left(kind, 1.0) < 1.0


@pytest.mark.parametrize("years", [-1.0, 1e9, float("nan")])
def test_years_that_cannot_be(years: float) -> None:
    with pytest.raises(BadInput, match="years"):
        share_left("alkaline", years)


def test_the_command_tells_wear_and_draws(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "supply.toml"
    path.write_text("""
[transformer]
secondary = "9 V"
current = "1 A"
rated_mains = "230 V"
[reservoir]
capacitance = "1000u"
rated = "16 V"
esr = "0.9 ohm"
[load]
current = "300 mA"
[regulator]
output = "5 V"
dropout = "2 V"
thermal_resistance = 12
[mains]
place = "uk"
""")
    assert run(["supply", str(path), "--plot", str(tmp_path / "drawn")]) == 3
    told = capsys.readouterr()
    assert "worn beyond the limit" in told.out
    assert (tmp_path / "drawn" / "ripple.svg").stat().st_size > 5000
