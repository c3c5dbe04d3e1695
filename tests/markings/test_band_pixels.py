"""Colours from pixels: CIELAB against another library, prototypes against a colour library's results, ties shown."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from kilter.cli.main import run
from kilter.measure.tables import table
from kilter.parts.markings.pixel_colours import lab, see_band

AUTHORITY = json.loads((Path(__file__).parents[2] / "authorities/colours/band_colours.json").read_text("utf-8"))["rows"]
CHANNEL = st.integers(0, 255)


@settings(deadline=None)
@given(CHANNEL, CHANNEL, CHANNEL)
def test_lab_agrees_with_another_library(red: int, green: int, blue: int) -> None:
    """OpenCV's float conversion, which interpolates in a table: 1 unit of CIELAB is about what an eye can just see."""
    pixel = np.array([[[red, green, blue]]], dtype=np.float32) / 255
    theirs = cv2.cvtColor(pixel, cv2.COLOR_RGB2LAB)[0, 0]
    assert lab((red, green, blue)) == pytest.approx(theirs.tolist(), abs=1.0)


@pytest.mark.parametrize("name", AUTHORITY)
def test_prototypes_are_the_colours_of_the_standard(name: str) -> None:
    """Munsell centroids through a colour library; those that no picture can hold are compared after clipping."""
    row = AUTHORITY[name]
    if all(0 <= one <= 255 for one in row["srgb"]):
        wanted = row["lab"]
    else:
        wanted = lab(tuple(float(min(255, max(0, one))) for one in row["srgb"]))  # type: ignore[arg-type]
    assert table("markings/colour_prototypes")["prototypes"][name] == pytest.approx(list(wanted), abs=0.6)


@pytest.mark.parametrize("name", AUTHORITY)
def test_a_standard_colour_is_recognised(name: str) -> None:
    red, green, blue = (float(min(255, max(0, one))) for one in AUTHORITY[name]["srgb"])
    seen = see_band((red, green, blue))
    assert seen.best == name
    assert seen.none < 0.05


def test_a_dark_warm_lamp_is_evened_out_by_white_paper() -> None:
    """Linear light times a lamp's colour: by the definition of sRGB the share of each channel is the same again."""

    def lit(rgb: tuple[float, float, float]) -> tuple[float, float, float]:
        lamp = (0.7, 0.5, 0.25)
        linear = [((one / 255 + 0.055) / 1.055) ** 2.4 if one > 10 else one / 255 / 12.92 for one in rgb]
        dim = [one * share for one, share in zip(linear, lamp, strict=True)]
        coded = [255 * (1.055 * one ** (1 / 2.4) - 0.055) if one > 0.0031308 else 255 * 12.92 * one for one in dim]
        return coded[0], coded[1], coded[2]

    paper = lit((237.0, 237.0, 237.0))
    for name in ("violet", "blue", "green", "grey", "white", "yellow"):
        red, green, blue = (float(min(255, max(0, one))) for one in AUTHORITY[name]["srgb"])
        assert see_band(lit((red, green, blue)), paper).best == name


def test_between_two_colours_both_are_shown() -> None:
    """Halfway in CIELAB between red and orange the two are as likely; computed by search over the cube."""
    middle = [(a + b) / 2 for a, b in zip(AUTHORITY["red"]["lab"], AUTHORITY["orange"]["lab"], strict=True)]
    low = range(0, 120, 5)
    cube = ((float(red), float(green), float(blue)) for red in range(150, 256, 5) for green in low for blue in low)
    nearest = min(cube, key=lambda rgb: sum((one - at) ** 2 for one, at in zip(lab(rgb), middle, strict=True)))
    band = see_band(nearest).band
    assert band["red"] == pytest.approx(band["orange"], rel=0.5)
    assert band["red"] + band["orange"] > 0.7


def test_a_colour_of_no_band_is_said_to_be_none() -> None:
    """Bright magenta is further than three standard deviations from every prototype."""
    assert see_band((255.0, 0.0, 255.0)).none > 0.5


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    """Four bands of standard colours on a beige body."""
    image = Image.new("RGB", (60, 12), (222, 194, 152))
    for place, name in enumerate(("yellow", "violet", "red")):
        colour = tuple(min(255, max(0, one)) for one in AUTHORITY[name]["srgb"])
        image.paste(colour, (4 + 14 * place, 0, 12 + 14 * place, 12))
    image.paste((176, 138, 70), (46, 0, 54, 12))
    image.save(tmp_path / "bands.png")
    return tmp_path / "bands.png"


def test_the_command_reads_a_picture(picture: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["marking", "--pixels", str(picture), "8,6", "22,6", "36,6", "50,6", "--json"])
    told = json.loads(capsys.readouterr().out)
    assert [max(one["colours"], key=one["colours"].get) for one in told["bands"]] == ["yellow", "violet", "red", "gold"]
    assert told["pieces"][0]["readings"][0]["fields"]["resistance"] == pytest.approx(4700)


@pytest.mark.parametrize("place", ["60,3", "3", "a,b", "-1,4"])
def test_a_pixel_outside_is_refused(picture: Path, place: str, capsys: pytest.CaptureFixture[str]) -> None:
    try:
        code = run(["marking", "--pixels", str(picture), place])
    except SystemExit as stopped:
        code = int(stopped.code or 0)
    assert code == 2
    assert "Traceback" not in capsys.readouterr().err
