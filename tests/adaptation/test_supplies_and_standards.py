"""Transformers, regulators and display standards against data sheets, laws and the formulas of the standards."""

from __future__ import annotations

import pytest

from kilter.measure.errors import BadInput, OutOfRange
from kilter.safety.adaptation.design import BEYOND, OPEN, WITHIN
from kilter.safety.adaptation.regulator import RegulatorWanted, design_regulator
from kilter.safety.adaptation.routes import routes
from kilter.safety.adaptation.standards import Signal, signal_notes, standards
from kilter.safety.adaptation.transformer import OtherMains, choose_transformer


def figure(made: object, start: str) -> float:
    return float(next(one.value[1] for one in made.figures if one.key.startswith(start)))  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("plate", "mains", "standing", "flux"),
    [((60.0,), 50.0, BEYOND, 120.0), ((50.0,), 60.0, WITHIN, 83.33), ((50.0, 60.0), 50.0, WITHIN, 100.0),
     ((50.0, 60.0), 60.0, WITHIN, 83.33), ((60.0,), 60.0, WITHIN, 100.0)],
)  # fmt: skip
def test_flux_goes_with_volts_by_hertz(plate: tuple[float, ...], mains: float, standing: str, flux: float) -> None:
    """Faraday's law: at the plate's volts the flux goes as 1/f; 60 Hz alone at 50 Hz is a fifth too much."""
    made = choose_transformer(OtherMains(100.0, 230.0, 35.0, mains, plate))
    assert made.standing == standing
    assert figure(made, "flux") == pytest.approx(flux, abs=0.01)


def test_unknown_frequency_is_never_let_through() -> None:
    assert choose_transformer(OtherMains(100.0, 230.0, 35.0, 50.0)).standing == OPEN


def test_ratio_and_size() -> None:
    """230 V to 100 V is 2.3 to 1; 35 VA with a quarter in reserve is 43.75 VA, so the next size made is 45 VA."""
    made = choose_transformer(OtherMains(100.0, 230.0, 35.0, 50.0, (50.0,)))
    assert figure(made, "volts") == pytest.approx(2.3)
    assert "45 VA" in made.parts[0].value
    assert "people trained" in made.cautions[0]
    with pytest.raises(OutOfRange, match="trained"):
        choose_transformer(OtherMains(100.0, 230.0, 900.0, 50.0, (50.0,)))


def test_bare_regulator_at_the_limit_of_its_sheet() -> None:
    """
    Sheets of the 7805 family: 65 K/W from junction to air, 125 degC: (125 - 25) / 65 = 1.54 W without a heat sink.

    With 8 mA of its own at 8 V in, 5 V out: 1.54 W is (1.54 - 0.064) / 3 = 0.492 A.
    """
    assert len(design_regulator(RegulatorWanted(8.0, 8.0, 5.0, 0.49, ambient=25.0)).parts) == 3
    with_sink = design_regulator(RegulatorWanted(8.0, 8.0, 5.0, 0.495, ambient=25.0))
    assert with_sink.parts[-1].ref == "HS1"


def test_heat_sink_of_a_worked_example() -> None:
    """By hand: 13 V in, 5 V out, 0.5 A: 4 W + 0.104 W; (125 - 40) / 4.104 - 5 - 1 = 14.71 K/W."""
    made = design_regulator(RegulatorWanted(8.5, 13.0, 5.0, 0.5))
    assert figure(made, "heat sink") == pytest.approx(14.71, abs=0.01)
    assert made.standing == WITHIN


def test_too_little_headroom() -> None:
    """A 7805 needs some 2 V (sheets), 3 V with reserve, at the valley of the ripple."""
    assert design_regulator(RegulatorWanted(6.8, 9.0, 5.0, 0.2)).standing == BEYOND
    with pytest.raises(OutOfRange, match="35 V"):
        design_regulator(RegulatorWanted(20.0, 36.0, 5.0, 0.2))


def test_no_heat_sink_can_take_it() -> None:
    assert design_regulator(RegulatorWanted(25.0, 30.0, 5.0, 1.5)).standing == BEYOND


@pytest.mark.parametrize(
    ("key", "words", "hertz"),
    [("625", "4.43 MHz, phase alternating", (1135 / 4 + 1 / 625) * 15625),
     ("625", "3.58 MHz, phase alternating on 625 lines", (917 / 4 + 1 / 625) * 15625),
     ("625", "4.41 MHz, sequential", 282 * 15625.0), ("625", "4.25 MHz, sequential", 272 * 15625.0),
     ("525", "3.58 MHz", 315e6 / 88),
     ("525", "3.58 MHz, phase alternating on 525 lines", 909 / 4 * 4.5e6 / 286)],
)  # fmt: skip
def test_colour_carriers_by_the_formulas_of_the_systems(key: str, words: str, hertz: float) -> None:
    """Multiples of the line rate as in ITU-R BT.470 / BT.1700 (second-hand); tables round 4.5 MHz / 286."""
    one = next(one for one in standards() if one.key == key)
    assert one.colours[words] == pytest.approx(hertz, abs=0.5)
    assert one.line_rate == pytest.approx(15625.0 if key == "625" else 4.5e6 / 286, rel=2e-7)


@pytest.mark.parametrize(
    ("signal", "standard", "said"),
    [(Signal(17734475 / 1135, 50.08), "625 lines, 50 fields", "same lines"),
     (Signal(15625.0, 50.0), "625 lines, 50 fields", "near the standard's"),
     (Signal(15700.0, 59.92), "525 lines, 59.94 fields", "same lines"),
     (Signal(15650.0, subcarrier=3579545.0), "525 lines, 59.94 fields", "colour carrier is near"),
     (Signal(15625.0, subcarrier=4435000.0), "625 lines, 50 fields", "colour carrier is off"),
     (Signal(31469.0, 59.94), "640 by 480", "near the standard's"),
     (Signal(24000.0, 60.0), "", "overloaded"),
     (Signal(15625.0, 50.0, display="31k"), "625 lines, 50 fields", "stores lines or pictures"),
     (Signal(15625.0, 50.0, 4433618.75, "525"), "625 lines, 50 fields", "another colour system"),
     (Signal(15734.0, 59.94, 3579545.0, "525"), "525 lines, 59.94 fields", "suit the display"),
     (Signal(15734.0, None, None, "525"), "525 lines, 59.94 fields", "is not known")],
)  # fmt: skip
def test_signals_of_known_machines_by_their_counts(signal: Signal, standard: str, said: str) -> None:
    """312 and 262 lines without interlace: line rate by lines is a whole number of lines in a field."""
    found = signal_notes(signal)
    assert found.standard.startswith(standard)
    assert bool(found.standard) == bool(standard)
    assert any(said in one for one in found.notes)


def test_display_that_is_not_known() -> None:
    with pytest.raises(BadInput, match="625, 525, 31k"):
        signal_notes(Signal(15625.0, display="405"))


@pytest.mark.parametrize("kind", ["video", "audio", "supply", "decoupling"])
def test_least_invasive_first_and_what_cannot_be_undone_needs_approval(kind: str) -> None:
    """Grades 0 to 6 as in the grade table; grade 5 and 6 are never the restorer's own decision."""
    ways = routes(kind)
    assert [one.grade for one in ways] == sorted(one.grade for one in ways)
    assert ways[0].grade <= 3
    assert all(one.approval for one in ways if one.grade >= 5)
    assert all(one.grade == 6 for one in ways if "drill" in (one.title + one.words).lower())
