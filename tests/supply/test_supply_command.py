"""The supply command on the documented example, what is not known, and files that cannot be used."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from kilter.cli.main import run
from kilter.importers.supply_description import read_supply
from kilter.measure.errors import BadInput

PAGE = Path(__file__).parents[2] / "docs" / "supply.md"


@pytest.fixture
def supply(tmp_path: Path) -> Path:
    """The example of the page."""
    path = tmp_path / "supply.toml"
    path.write_text(re.search(r"```toml\n(.*?)```", PAGE.read_text("utf-8"), re.DOTALL)[1])  # type: ignore[index]
    return path


def figures(path: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, dict[str, float | str]]:
    run(["supply", str(path), "--json"])
    return {one["key"]: one for one in json.loads(capsys.readouterr().out)["figures"]}


def test_the_documented_supply(supply: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Bounds are bounds, and a regulator that needs 7 V gets more at the valley: 9 V x 1.41 less drops and ripple."""
    assert run(["supply", str(supply)]) == 0
    assert "nothing here says" in capsys.readouterr().out
    found = figures(supply, capsys)
    assert found["ripple"]["value"] < found["ripple"]["bound"]
    assert found["inrush"]["value"] < found["inrush"]["bound"]
    assert found["valley"]["verdict"] == "within"
    assert 7.0 < found["valley"]["value"] < 9.0 * 1.15 * 1.4143 * 230 / 240


def test_a_hotter_regulator_is_beyond(supply: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """65 K/W, a bare package: more than 1.3 W, so more than 85 K above 40 degC."""
    supply.write_text(supply.read_text().replace("thermal_resistance = 12", "thermal_resistance = 65"))
    found = figures(supply, capsys)
    assert found["regulator_heat"]["value"] > 1.3
    assert found["junction"]["verdict"] == "beyond"


def test_what_is_not_known_stays_so(supply: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = re.sub(r"(thermal_resistance|bleeder|rated = \"16|melting).*\n", "\n", supply.read_text())
    supply.write_text(text)
    assert run(["supply", str(supply)]) == 3
    capsys.readouterr()
    found = figures(supply, capsys)
    assert {found[key]["verdict"] for key in ("junction", "discharge", "reservoir_volts", "inrush_i2t")} == {
        "not known"
    }


@pytest.mark.parametrize(("old", "new", "named"), [
    ('secondary = "9 V"', "", "secondary"), ('capacitance = "2200u"', "capacitance = 0", "above 0"),
    ('place = "uk"', 'place = "moon"', "eu"), ("regulation = 0.15", "regulation = 15", "share"),
    ("drop", "drops", "drop"),
])  # fmt: skip
def test_what_cannot_be_used_is_refused(supply: Path, old: str, new: str, named: str) -> None:
    text = supply.read_text()
    assert old in text
    supply.write_text(text.replace(old, new, 1))
    with pytest.raises(BadInput, match=re.escape(named)):
        read_supply(supply)


def test_a_load_that_empties_the_reservoir(supply: Path, capsys: pytest.CaptureFixture[str]) -> None:
    supply.write_text(supply.read_text().replace('current = "500 mA"', 'current = "50 A"'))
    assert run(["supply", str(supply)]) == 2
    assert "empties a reservoir" in capsys.readouterr().err
