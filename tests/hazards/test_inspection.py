"""Inspection records: limits by edition, what is not done, and what is never said."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kilter.cli.main import run
from kilter.safety.inspection import BEYOND, INCOMPLETE, NOTHING_FOUND, OPEN, WITHIN, Appliance, inspect

SEEN = dict.fromkeys(("plug", "lead", "case", "signs", "voltage"), True)
SOUND = {"earth": 0.05, "insulation": 20e6, "leakage": 0.1e-3, "seen": SEEN}


@pytest.mark.parametrize(
    ("protection", "hand_held", "edition", "limits"),
    [
        ("I", False, "uk_4", (0.1, 1e6, 3.5e-3)),
        ("I", True, "uk_4", (0.1, 1e6, 0.75e-3)),
        ("II", False, "uk_4", (None, 2e6, 0.25e-3)),
        ("III", False, "uk_4", (None, 0.25e6, None)),
        ("I", True, "uk_5", (0.1, 1e6, 5e-3)),
        ("II", False, "uk_5", (None, 2e6, 5e-3)),
    ],
)
def test_limits_of_the_editions(
    protection: str, hand_held: bool, edition: str, limits: tuple[float | None, ...]
) -> None:
    """Two public summaries of the code of practice, second-hand, that agree; written out here by hand."""
    found = {one.key: one.limit for one in inspect(Appliance(protection, edition, hand_held)).items}
    assert (found["earth"], found["insulation"], found["leakage"]) == pytest.approx(limits)


def test_lead_is_added_to_the_earth_limit() -> None:
    """2 m of 0.75 mm2 is 52 milliohm (IEC 60228 class 5, from memory): 0.15 ohm is within 0.1 + 0.052."""
    one = Appliance("I", "uk_4", earth=0.15, lead_length=2.0, lead_section=0.75, insulation=5e6, leakage=1e-3)
    earth = next(item for item in inspect(one).items if item.key == "earth")
    assert earth.limit == pytest.approx(0.152)
    assert earth.standing == WITHIN


@pytest.mark.parametrize(("key", "value"), [("earth", 0.3), ("insulation", 0.5e6), ("leakage", 4e-3),
                                            ("seen", {**SEEN, "lead": False})])  # fmt: skip
def test_one_finding_beyond_fails(key: str, value: object) -> None:
    found = inspect(Appliance("I", "uk_4", **{**SOUND, key: value}))
    assert found.standing == "failed"
    assert [item.standing for item in found.items].count(BEYOND) == 1


@pytest.mark.parametrize("key", list(SOUND))
def test_what_is_not_done_never_passes(key: str) -> None:
    found = inspect(Appliance("I", "uk_4", **{**SOUND, key: None}))
    assert found.standing == INCOMPLETE
    assert OPEN in {item.standing for item in found.items}
    assert inspect(Appliance("I", "uk_4", **SOUND)).standing == NOTHING_FOUND


def test_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = (Path(__file__).parents[2] / "docs" / "hazards.md").read_text("utf-8")
    file = tmp_path / "one.toml"
    file.write_text(page.split("```toml\n", 1)[1].split("```", 1)[0])
    assert run(["inspection", str(file), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["standing"] == NOTHING_FOUND
    file.write_text('class = "II"\nedition = "uk_4"\ninsulation = "20 Mohm"\ntest_volts = "500 V"\n')
    assert run(["inspection", str(file)]) == 3
    said = " ".join(capsys.readouterr().out.split())
    assert "does not say that the appliance is safe" in said
    assert "say who approved it" in said


@pytest.mark.parametrize("text", ['class = "IV"\nedition = "uk_4"', 'class = "I"\nedition = "mine"', 'edition = "uk_4"',
                                  'class = "I"\nedition = "uk_4"\nearth = "-1 ohm"', "class = ["])  # fmt: skip
def test_bad_files(tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str) -> None:
    file = tmp_path / "bad.toml"
    file.write_text(text)
    assert run(["inspection", str(file)]) == 2
    assert len(capsys.readouterr().err) > 60
