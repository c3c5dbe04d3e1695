"""Supply calculations against published worked examples and outside integrators, each with its source beside it."""

from __future__ import annotations

from math import exp

import pytest
from scipy.integrate import quad

from kilter.measure.errors import OutOfRange
from kilter.safety.supply.electrolytic import equivalent_resistance, leakage_limit, life_hours, reform_plan
from kilter.safety.supply.heat import dissipation, junction, wanted_resistance
from kilter.safety.supply.stored import discharge_seconds, energy, resistor_watts
from kilter.safety.supply.surge import charging_i2t, fuse_stands, share_allowed


def test_bare_regulators_of_two_makers() -> None:
    """
    Two makers' 7805 sheets: 65 and 50 K/W from junction to air without a heat sink (read second-hand).

    From 25 degC to a junction of 125 degC that allows 1.54 and 2.0 W.
    """
    for resistance, watts in ((65.0, 1.54), (50.0, 2.0)):
        assert junction(watts, 25.0, resistance) == pytest.approx(125.0, abs=0.2)


def test_nine_volt_adaptor_on_a_five_volt_regulator() -> None:
    """Worked by hand: 13 V in, 5 V out, 0.5 A is 4 W and wants 25 K/W in all; 1 A from 10 V is 5 W."""
    assert dissipation(13.0, 5.0, 0.5) == pytest.approx(4.0)
    assert dissipation(10.0, 5.0, 1.0) == pytest.approx(5.0)
    assert wanted_resistance(4.0, 25.0, 125.0) == pytest.approx(25.0)


@pytest.mark.parametrize(("farads", "ohms", "start", "end", "seconds"), [
    (470e-6, 10e3, 400.0, 50.0, 9.8),  # a calculator page's example, second-hand
    (100e-6, 10e3, 300.0, 15.0, 3.0),  # another page's example, second-hand
    (100e-6, 100e3, 325.0, 60.0, 16.9),  # worked by hand: 10 s x ln(325/60)
])  # fmt: skip
def test_discharge_examples(farads: float, ohms: float, start: float, end: float, seconds: float) -> None:
    assert discharge_seconds(farads, ohms, start, end) == pytest.approx(seconds, abs=0.06)


def test_energy_examples() -> None:
    """80 J for 1000 µF at 400 V (a published page, second-hand); 5.28 J for 100 µF at 325 V, by hand."""
    assert energy(1000e-6, 400.0) == pytest.approx(80.0)
    assert energy(100e-6, 325.0) == pytest.approx(5.28, abs=0.005)


@pytest.mark.parametrize(("farads", "volts", "ohms"), [(2200e-6, 15.4, 0.6), (100e-6, 325.0, 5.0)])
def test_i2t_is_the_integral_of_the_charging_pulse(farads: float, volts: float, ohms: float) -> None:
    """Outside integrator: scipy's quadrature of (V/R exp(-t/RC)) squared."""
    tau = ohms * farads
    area, _ = quad(lambda t: (volts / ohms * exp(-t / tau)) ** 2, 0.0, 40.0 * tau)
    assert charging_i2t(farads, volts, ohms) == pytest.approx(area, rel=1e-6)


def test_i2t_worked_example() -> None:
    """A fuse maker's chart for an exponential pulse: half the squared peak times the time constant: 0.43 A² s."""
    assert charging_i2t(2200e-6, 15.4, 0.6) == pytest.approx(0.43, abs=0.005)


def test_fuse_pulses() -> None:
    """The same maker's table (second-hand): 22 % for 100,000 pulses, 48 % for 100."""
    assert (share_allowed(100_000), share_allowed(100), share_allowed(50)) == (0.22, 0.48, 0.48)
    assert fuse_stands(0.43, 6.0, 10_000)  # 29 % of 6 is 1.74
    assert not fuse_stands(0.43, 1.0, 10_000)
    with pytest.raises(OutOfRange, match="switch-ons"):
        share_allowed(1e7)


def test_life_examples() -> None:
    """Makers' rule: 2,000 h at 85 degC is 32,000 h at 45 degC; 1,000 h at 105 degC is 16,000 h at 65 degC."""
    assert life_hours(2000, 85, 45) == pytest.approx(32_000)
    assert life_hours(1000, 105, 65) == pytest.approx(16_000)


def test_leakage_limits() -> None:
    """JAN-C-62 (second-hand): 20 µF at 450 V 1.1 mA; 100 µF at 100 V 1.3 mA by the same rule."""
    assert leakage_limit(20e-6, 450.0) == pytest.approx(1.1e-3)
    assert leakage_limit(100e-6, 100.0) == pytest.approx(1.3e-3)
    with pytest.raises(OutOfRange, match="600 V"):
        leakage_limit(20e-6, 600.0)


def test_equivalent_resistance_from_the_loss_tangent() -> None:
    """Definition of the loss tangent; 0.2 at 120 Hz and 1000 µF is 0.265 ohm, the figure that two sheets print."""
    assert equivalent_resistance(0.2, 120.0, 1000e-6) == pytest.approx(0.265, abs=0.001)


def test_reform_plans() -> None:
    """A maker's sheet of 1993 (second-hand): 10 kohm up to 75 V, 100 kohm above, hold at least four hours."""
    low, high = reform_plan(1000e-6, 25.0, 10.0), reform_plan(22e-6, 350.0, 30.0)
    assert (low.ohms, high.ohms) == (10e3, 100e3)
    for plan, volts in ((low, 25.0), (high, 350.0)):
        assert plan.steps[-1].volts == pytest.approx(volts)
        assert plan.steps[-1].minutes >= 240
        assert [step.volts for step in plan.steps] == sorted(step.volts for step in plan.steps)
        assert plan.watts == pytest.approx(resistor_watts(plan.ohms, volts))
    assert reform_plan(22e-6, 350.0, 40.0).minutes > high.minutes
    with pytest.raises(OutOfRange, match="reforming"):
        reform_plan(0.0, 25.0, 1.0)


def test_discharge_to_nothing_is_refused() -> None:
    with pytest.raises(OutOfRange, match="never brings"):
        discharge_seconds(1e-3, 1e3, 10.0, 0.0)
