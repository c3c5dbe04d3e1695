"""Numbers behind the rules: fan-outs of textbooks, classes of a standard, a crystal's resonance by its circuit."""

from __future__ import annotations

from math import inf, pi, sqrt

import pytest
from scipy.optimize import brentq

from kilter.parts.substitutes.crystals import pulled_ppm
from kilter.parts.substitutes.gates import families, fan_out, margins
from kilter.parts.substitutes.part_data import special

TEXTBOOK = [("74LS", "74LS", 20), ("74", "74", 10), ("74LS", "74", 5), ("74", "74LS", 20), ("74HC", "74LS", 10),
            ("4000B", "74LS", 1), ("74S", "74S", 10), ("74ALS", "74ALS", 20), ("74F", "74F", 33)]  # fmt: skip
"""Quotients of the guaranteed currents that textbooks print; 4000B drives one LS input."""


@pytest.mark.parametrize(("driver", "load", "count"), TEXTBOOK)
def test_fan_out(driver: str, load: str, count: int) -> None:
    assert fan_out(driver, load) == count


def test_levels_that_are_not_guaranteed() -> None:
    """TTL's 2.4 and 2.7 V are below the 3.5 V that HC and 4000B ask for at 5 V; HCT asks for 2.0 V."""
    for driver in ("74", "74LS", "74F", "74S"):
        assert margins(driver, "74HC")[0] < 0
        assert margins(driver, "4000B")[0] < 0
        assert min(margins(driver, "74HCT")) > 0
    for load in ("74", "74LS", "74HCT", "74HC"):
        assert min(margins("74HC", load)) > 0


def test_ttl_noise_margin_is_four_tenths_of_a_volt() -> None:
    """Every textbook's figure for standard TTL, high and low."""
    assert margins("74", "74") == pytest.approx((0.4, 0.4))


def test_every_family_has_a_supply_and_a_delay() -> None:
    assert set(families()) <= set(special("logic_supply"))
    assert set(families()) <= set(special("logic"))


def test_safety_classes_follow_their_impulse_tests() -> None:
    """IEC 60384-14: X never for Y; a substitute's impulse voltage is never below the wanted one's."""
    data = special("safety")
    for want in ("X1", "X2", "Y1", "Y2"):
        for have in data[want]:
            assert data["impulse"][have] >= data["impulse"][want]
            assert not (want.startswith("Y") and have.startswith("X"))
    assert data["impulse"]["Y1"] == 8000
    assert data["impulse"]["X2"] == 2500


def resonance(frequency: float, motional: float, shunt: float, load: float) -> float:
    """
    Frequency at which crystal and load capacitance in series are resistive, from the equivalent circuit. [Hz]

    The series arm L1, C1 (no loss) lies across C0; in series with CL the reactance is nought where
    wL1 - 1/(wC1) = 1/(w (C0 + CL)).
    """
    inductance = 1 / ((2 * pi * frequency) ** 2 * motional)
    if load == inf:
        return frequency

    def reactance(hertz: float) -> float:
        w = 2 * pi * hertz
        return w * inductance - 1 / (w * motional) - 1 / (w * (shunt + load))

    return float(brentq(reactance, frequency, frequency * 1.01, xtol=1e-9, rtol=1e-15))


@pytest.mark.parametrize("made_for", [12e-12, 20e-12, 30e-12, inf])
@pytest.mark.parametrize("used_with", [12e-12, 16e-12, 30e-12, inf])
def test_pulling_is_that_of_the_equivalent_circuit(made_for: float, used_with: float) -> None:
    """First order in C1/(C0 + CL) against the exact root: they part by about the square, here below 1 ppm."""
    motional, shunt = 15e-15, 4e-12
    ratio = resonance(4e6, motional, shunt, used_with) / resonance(4e6, motional, shunt, made_for)
    assert pulled_ppm(motional, shunt, made_for, used_with) == pytest.approx((ratio - 1) * 1e6, abs=1.0)


def test_series_and_parallel_cuts_are_hundreds_of_ppm_apart() -> None:
    """The known size of the mistake; closed form C1 / (2 (C0 + CL))."""
    assert pulled_ppm(20e-15, 5e-12, inf, 20e-12) == pytest.approx(20e-15 / (2 * 25e-12) * 1e6)
    assert sqrt(1 + 20e-15 / 25e-12) - 1 == pytest.approx(400e-6, rel=1e-3)
