"""Comparison of temperature pictures: registration, rises, surfaces and the command, on boards drawn by scenes.py."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import scenes
from scipy import stats

from kilter.cli.main import run
from kilter.measure.errors import BadInput
from kilter.services.compare_thermal import ALIKE, HOTTER, UNREAD, View, compare_thermal, rates
from kilter.services.place_outlines import place_outlines
from kilter.thermal.figures import surfaces
from kilter.thermal.heat import rise_rate
from kilter.thermal.image import TemperatureImage
from kilter.thermal.inside_part import junction_span, true_celsius, true_span
from kilter.thermal.outlines import Outline, Outlines
from kilter.thermal.placing import place
from kilter.thermal.register import register, register_by_corners
from kilter.thermal.structure import noise_of

TRIALS = 3


@pytest.mark.parametrize("kind", ["same", "one hot", "hot missing", "own texture"])
def test_registered_within_a_pixel(kind: str) -> None:
    """True place by construction; benchmarks/thermal.py does hundreds of these."""
    for number in range(TRIALS):
        good, other, points = scenes.trial(np.random.default_rng([11, number]), kind)
        found = register(good.celsius, other.celsius)
        assert found.found, found.doubts
        assert scenes.true_error(found.matrix, other.matrix, points) < 1.0


@pytest.mark.parametrize("kind", ["stranger", "cold"])
def test_no_failure_goes_unnoticed(kind: str) -> None:
    for number in range(TRIALS):
        good, other, points = scenes.trial(np.random.default_rng([12, number]), kind)
        found = register(good.celsius, other.celsius)
        wrong = kind == "stranger" or scenes.true_error(found.matrix, other.matrix, points) >= 1.0
        assert not (wrong and found.found)


def test_noise_alone_is_refused() -> None:
    rng = np.random.default_rng(5)
    assert not register(rng.normal(22, 0.1, (240, 320)), rng.normal(22, 0.1, (240, 320))).found


def test_corners_set_by_hand_are_refined_or_kept() -> None:
    """A hand errs by 2.5 pixels a corner; a board turned further than the search goes is found from its corners."""
    rng = np.random.default_rng(3)
    matrix = scenes.view_matrix(120.0, 0.8, (5.0, -4.0), (0.0, 0.0))
    parts, surface = scenes.parts_of(rng), scenes.texture(rng)
    good = scenes.draw(parts, surface, np.eye(3), rng)
    other = scenes.draw(parts, surface, matrix, rng)
    corners = np.array([[40.0, 35], [280, 35], [280, 205], [40, 205]])
    clicked = scenes.apply(matrix, corners) + rng.normal(0, 1.8, (4, 2))
    points = scenes.seen_by_both(matrix)
    assert not register(good.celsius, other.celsius).found
    refined = register_by_corners(good.celsius, other.celsius, corners, clicked)
    assert refined.how == "corners, refined"
    assert scenes.true_error(refined.matrix, matrix, points) < 1.0
    flat = rng.normal(22, 0.1, other.celsius.shape)
    kept = register_by_corners(good.celsius, flat, corners, clicked)
    assert kept.how == "corners"
    assert kept.error >= 2.0


@pytest.mark.parametrize("sigma", [0.05, 0.3])
def test_noise_of_known_size(sigma: float) -> None:
    picture = 20 + 0.01 * np.mgrid[0:240, 0:320][1] + np.random.default_rng(1).normal(0, sigma, (240, 320))
    assert noise_of(picture) == pytest.approx(sigma, rel=0.03)


def test_homography_against_another_library() -> None:
    cv2 = pytest.importorskip("cv2")
    rng = np.random.default_rng(2)
    source = rng.uniform(0, 300, (9, 2))
    target = scenes.apply(scenes.view_matrix(20, 1.1, (4, 9), (1e-4, -2e-4)), source) + rng.normal(0, 0.5, (9, 2))
    ours, theirs = place(source, target, "homography"), cv2.findHomography(source, target, 0)[0]
    sums = [float(((scenes.apply(m, source) - target) ** 2).sum()) for m in (ours.matrix, theirs)]
    assert sums[0] <= sums[1] * (1 + 1e-6)
    assert np.abs(scenes.apply(ours.matrix, source) - scenes.apply(theirs, source)).max() < 0.05


@cache
def boards() -> tuple[View, list[View], dict[str, Outline], str]:
    """An object whose one part runs 18 K hotter than on three known-good boards, and the name of that part."""
    rng = np.random.default_rng(21)
    parts, surface = scenes.parts_of(rng), scenes.texture(rng)
    hot = next(
        k for k, p in enumerate(parts) if p.emissivity > 0.5 and min(p.box[2] - p.box[0], p.box[3] - p.box[1]) > 14
    )
    good = []
    for shift in (0.0, 5.0, -7.0):
        some = [scenes.Part(p.box, p.rise * float(rng.normal(1, 0.04)), p.emissivity) for p in parts]
        view = scenes.draw(some, surface, scenes.view_matrix(shift, 1.0, (shift, 0), (0, 0)), rng, ambient=22.0)
        good.append(View(TemperatureImage(view.celsius, f"good{shift:g}"), 22.0))
    own = [scenes.Part(p.box, p.rise + (18.0 if k == hot else 0.0), p.emissivity) for k, p in enumerate(parts)]
    seen = scenes.draw(own, surface, scenes.view_matrix(6, 0.95, (12, -9), (0, 0)), rng, ambient=25.0)
    outlines = {
        f"U{k}": Outline(
            f"U{k}",
            ((p.box[0], p.box[1]), (p.box[2], p.box[1]), (p.box[2], p.box[3]), (p.box[0], p.box[3])),
            "plastic" if p.emissivity > 0.5 else "bare_metal",
        )
        for k, p in enumerate(parts)
    }
    return View(TemperatureImage(seen.celsius, "object"), 25.0), good, outlines, f"U{hot}"


def test_hotter_part_is_named_with_its_difference() -> None:
    found, good, outlines, hot = boards()
    told = compare_thermal(found, good, outlines)
    parts = {one.ref: one for one in told.parts}
    assert parts[hot].verdict == HOTTER
    assert parts[hot].difference == pytest.approx(18.0 * 0.92, abs=2 * parts[hot].uncertainty)  # emissivity about 0.92
    others = [one for ref, one in parts.items() if ref != hot and one.verdict != UNREAD]
    assert sum(one.verdict == ALIKE for one in others) >= 0.9 * len(others)
    metal = [ref for ref, one in outlines.items() if one.surface == "bare_metal"]
    assert all(parts[ref].verdict == UNREAD for ref in metal)
    assert np.isfinite(told.difference).mean() > 0.5


def test_other_board_is_an_error_with_reasons() -> None:
    found, good, outlines, _ = boards()
    stranger = scenes.trial(np.random.default_rng(77), "stranger")[1]
    with pytest.raises(BadInput, match="agree in"):
        compare_thermal(View(TemperatureImage(stranger.celsius, "other"), 22.0), good[:1], outlines)
    assert found.corners is None


def test_rate_of_rise_against_another_library() -> None:
    t = np.array([1.0, 2, 3, 5, 8])
    y = 0.4 * t + np.array([0.1, -0.1, 0.05, 0.0, -0.05])
    want, ours = stats.linregress(t, y), rise_rate(t, y)
    assert ours.kelvin_per_second == pytest.approx(want.slope)
    assert ours.uncertainty == pytest.approx(want.stderr)
    assert ours.steady
    bent = 30 * (1 - np.exp(-np.arange(10) / 2.0))  # nears its end: the usual law of warming up
    assert not rise_rate(np.arange(10.0), bent).steady


def test_series_of_one_part() -> None:
    found, good, outlines, hot = boards()
    told = compare_thermal(found, good[:1], outlines)
    cold = found.image.celsius * 0 + 25.0
    series = [(s, TemperatureImage(cold + (found.image.celsius - 25.0) * s / 10)) for s in (2.0, 4.0, 6.0)]
    rise = next(one.rise.kelvin for one in told.parts if one.ref == hot)
    assert rates(series, told, outlines)[hot].kelvin_per_second == pytest.approx(rise / 10, rel=0.02)


def test_emissivity_by_the_law_of_radiation() -> None:
    """Stefan-Boltzmann: a grey surface sends e T^4 and mirrors the rest; the sum is what the camera takes for T^4."""
    for emissivity, true in ((0.95, 60.0), (0.3, 60.0), (0.15, 90.0)):
        seen = (emissivity * (true + 273.15) ** 4 + (1 - emissivity) * 296.15**4) ** 0.25 - 273.15
        assert true_celsius(seen, emissivity, 23.0) == pytest.approx(true)
    low, high = true_span(29.5, surfaces()["bare_metal"], 23.0)
    assert high - low > 20  # why bare metal is not read
    assert not surfaces()["bare_metal"].readable


def test_junction_of_a_published_example() -> None:
    """95.26 degC on top, 0.51 W, psi JT 6.1 K/W give 98.37 degC: a chip maker's support forum."""
    assert junction_span(95.26, 0.51, (6.1, 6.1))[0] == pytest.approx(98.37, abs=0.01)
    low, high = junction_span(60.0, 1.0)
    assert low < high


def files(tmp_path: Path) -> list[str]:
    """A board with these parts, its pictures and outlines, as files."""
    found, good, outlines, _ = boards()
    lines = ["kilter = 1", 'board = "drawn"']
    lines += [f'[parts.{ref}]\nkind = "logic"\npins = {{ 1 = "n{ref}", 2 = "0" }}' for ref in outlines]
    lines += [f'[points.T{ref}]\nnet = "n{ref}"' for ref in outlines]
    (tmp_path / "board.toml").write_text("\n".join(lines), "utf-8")
    drawn = ["kilter_outlines = 1"]
    for ref, one in outlines.items():
        (x0, y0), _, (x1, y1), _ = one.corners
        drawn.append(f'[outlines.{ref}]\nbox = [{x0}, {y0}, {x1}, {y1}]\nsurface = "{one.surface}"')
    (tmp_path / "outlines.toml").write_text("\n".join(drawn), "utf-8")
    for name, view in (("object", found), ("good1", good[0]), ("good2", good[1])):
        np.savetxt(tmp_path / f"{name}.csv", view.image.celsius, fmt="%.2f", delimiter=";", header="degC")
    return [
        "thermal",
        str(tmp_path / "board.toml"),
        "--picture",
        str(tmp_path / "object.csv"),
        "--known-good",
        str(tmp_path / "good1.csv"),
        "--known-good",
        str(tmp_path / "good2.csv"),
        "--ambient",
        "25",
        "--known-good-ambient",
        "22",
        "--known-good-ambient",
        "22",
        "--outlines",
        str(tmp_path / "outlines.toml"),
    ]


def test_command_from_files_to_suspects(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Pictures to readings to a diagnosis: the hot part is the first suspect."""
    hot = boards()[3]
    words = [*files(tmp_path), "--json", "--write", str(tmp_path / "out"), "--power", f"{hot}=0.5"]
    assert run(words) == 3  # bare metal is not read, and that is said
    told = capsys.readouterr()
    part = json.loads(told.out)["parts"]
    assert max(part, key=lambda one: one["ratio"] or 0.0)["part"] == hot
    assert "not read" in told.err
    board, out = str(tmp_path / "board.toml"), tmp_path / "out"
    known = [word for n in (1, 2) for word in ("--known-good", str(out / f"known-good-{n}.csv"))]
    run(["diagnose", board, "--readings", str(out / "object.csv"), *known, "--json"])
    assert json.loads(capsys.readouterr().out)["suspects"][0]["part"] == hot


def test_text_and_picture_of_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("matplotlib")
    assert run([*files(tmp_path), "--plot", str(tmp_path / "plots")]) == 3
    lines = capsys.readouterr().out.splitlines()
    assert any(line.split()[:2] == ["*", boards()[3]] for line in lines)
    assert (tmp_path / "plots" / "thermal.png").stat().st_size > 20_000


@pytest.mark.parametrize(
    "words",
    [
        ["--corners", "1,2 3,4"],
        ["--power", "U1"],
        ["--at", "now=x.csv"],
        ["--match", "U1:3,4"],
        ["--unit", "mK"],
        ["--ambient", "400"],
        ["--state", "nowhere"],
    ],
)
def test_words_that_cannot_be_used(tmp_path: Path, words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run([*files(tmp_path), *words]) == 2
    assert "Allowed:" in capsys.readouterr().err


def test_outlines_by_matched_points() -> None:
    """Millimetres to pixels by an affine map known by construction."""
    drawn = Outlines({"U1": Outline("U1", ((0.0, 0.0), (10, 0), (10, 5), (0, 5)))}, "mm")
    matches = [
        ((0.0, 0.0), (20.0, 30.0)),
        ((50.0, 0.0), (120.0, 30.0)),
        ((0.0, 50.0), (20.0, 130.0)),
        ("U1", (30.0, 35.0)),
    ]
    placed = place_outlines(drawn, matches)
    assert np.allclose(placed.parts["U1"].corners, [(20, 30), (40, 30), (40, 40), (20, 40)])
    assert placed.placing is not None
    assert placed.placing.error == pytest.approx(0.0, abs=1e-9)
    with pytest.raises(BadInput, match="no matched point"):
        place_outlines(drawn, [])
    with pytest.raises(BadInput, match="one line"):
        place_outlines(drawn, [((float(k), 0.0), (float(k), 0.0)) for k in range(4)])
