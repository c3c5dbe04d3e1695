"""
A temperature picture brought to a visit: its parts, its marks, and its readings in one piece.

The pictures are built with known rises, so what has to be read is known by construction (WARM in web_world.py).
Emissivities are those of data/thermal.toml with their sources; lightness is CIE 1976 L* (CIE 015), of pictures decoded
by Pillow, an outside library.
"""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from web_world import WARM, World, temperatures, written

from kilter.services.visit_log import READ
from kilter.store.journal import head
from kilter.store.models import Filing, JournalRow, Visit
from kilter.store.verbs.files import attach
from kilter.store.verbs.visits import EVIDENCE, log_of
from kilter.web.thermal_look import look_at
from kilter.web.thermal_said import said_of

PUT = {"act": "put", "part": ["R1", "R2"], "state": "bench"}


def post(world: World, filing: Filing | None = None, **told: Any) -> Any:
    address = world.path("thermal").replace(str(world.thermal.pk), str((filing or world.thermal).pk))
    return world.client().post(address, told)


def page(world: World, filing: Filing | None = None) -> str:
    address = world.path("thermal").replace(str(world.thermal.pk), str((filing or world.thermal).pk))
    return str(world.client().get(address).body.decode())


def picture_of(world: World, visit: Visit, content: bytes, name: str = "other.csv") -> Filing:
    return attach(world.scene.who("recorder"), io.BytesIO(content), name, "thermal picture", "text/plain",
                  about=visit.object, visit=visit)  # fmt: skip


def rises(world: World, filing: Filing | None = None) -> dict[str, float]:
    look, _ = look_at(filing or world.thermal, world.edition)
    return {ref: one.rise.kelvin for ref, one in look.parts.items()}


def test_rises_are_those_of_the_picture(world: World) -> None:
    found = rises(world)
    for number, (_, _, rise) in WARM.items():
        assert found[f"R{number}"] == pytest.approx(rise, abs=0.01)
    assert "which always fit: mark one more part" in page(world)


def test_what_may_be_behind_the_surface(world: World) -> None:
    """Closed form, fourth powers of absolute temperatures; moulded plastic sends 0.85 to 0.97 (data/thermal.toml)."""
    assert post(world, act="mark", part="R2", x="60", y="15", surface="plastic").status_code == 302
    part = look_at(world.thermal, world.edition)[0].parts["R2"]
    ends = [((323.15**4 - (1 - e) * 293.15**4) / e) ** 0.25 - 273.15 for e in (0.97, 0.85)]
    assert part.true == pytest.approx(ends, abs=0.01)
    assert part.uncertainty == pytest.approx(np.hypot(part.rise.uncertainty, (ends[1] - 50.0) / np.sqrt(3)))
    assert f"{ends[0]:.0f} to {ends[1]:.0f} °C" in page(world)


def test_readings_in_one_piece_with_the_file(world: World) -> None:
    before, entries = head()[0], world.visit.entries.count()
    told = post(world, **PUT)
    assert told.status_code == 302
    assert told["Location"].endswith("/bench/")
    assert head()[0] == before + 1
    rows = list(world.visit.entries.order_by("number"))[entries:]
    assert [(row.point, row.quantity, row.kind) for row in rows] == [
        ("R1", "temperature_rise", READ), ("R2", "temperature_rise", READ),
    ]  # fmt: skip
    assert [row.value for row in rows] == pytest.approx([10.0, 30.0], abs=0.01)
    assert all(row.uncertainty > 0.3 for row in rows)
    assert {row.words[EVIDENCE] for row in rows} == {world.thermal.attachment.sha256}
    assert JournalRow.objects.order_by("-number")[0].evidence == world.thermal.attachment.sha256
    assert "temperature_rise" in world.client().get(told["Location"]).body.decode()


def test_twice_would_count_twice(world: World) -> None:
    assert post(world, **PUT).status_code == 302
    before = written()
    for parts in (["R1"], ["R3", "R2"]):
        answer = post(world, **{**PUT, "part": parts})
        assert answer.status_code == 400
        assert "which this file has told already" in answer.body.decode()
    assert written() == before
    assert "3 entries" not in page(world)
    assert post(world, **{**PUT, "part": ["R3"]}).status_code == 302


@pytest.mark.parametrize("told", [
    {"part": ["R1", "R9"]}, {"part": []}, {"state": "off"}, {"state": "none such"}, {"part": ["R1", "R1"], "state": ""},
], ids=["unknown part", "no part", "power off", "no such state", "no state"])  # fmt: skip
def test_or_none(world: World, told: dict[str, Any]) -> None:
    before = head()
    assert post(world, **{**PUT, **told}).status_code == 400
    assert head() == before


def test_not_before_the_checks(world: World) -> None:
    """The same door as typed readings: anything done to the object closes it (docs/pages.md)."""
    deed = {"act": "deed", "deed": "renewed", "where": "R1", "after": str(world.visit.entries.count())}
    assert world.client().post(world.path("take"), deed).status_code == 303
    before = head()
    answer = post(world, **PUT)
    assert answer.status_code == 400
    assert "before the power checks" in answer.body.decode()
    assert head() == before


def test_bare_metal_is_not_read(world: World) -> None:
    assert post(world, act="mark", part="R2", x="60", y="15", surface="bare_metal").status_code == 302
    text = page(world)
    assert "not read" in text
    assert "Bare metal mirrors the room" in text
    before = head()
    assert post(world, **PUT).status_code == 400
    assert head() == before
    assert post(world, **{**PUT, "part": ["R1"]}).status_code == 302


def test_pointing_without_script(world: World) -> None:
    """An image button sends where it was pressed, in pixels of what is shown (HTML, 4.10.5.1.19); four a pixel here."""
    assert post(world, act="mark", part="R1", **{"spot.x": "82", "spot.y": "62"}).status_code == 302
    mark = next(one for one in said_of(world.thermal).marks if one.ref == "R1")
    assert (mark.x, mark.y) == pytest.approx((20.0, 15.0))
    assert post(world, act="mark", part="R1", x="7", y="8,5", **{"spot.x": "0", "spot.y": "0"}).status_code == 302
    mark = next(one for one in said_of(world.thermal).marks if one.ref == "R1")
    assert (mark.x, mark.y) == (7.0, 8.5)


@pytest.mark.parametrize("told", [
    {"x": "81", "y": "3"}, {"x": "-2", "y": "3"}, {"x": "nan", "y": "1"}, {"x": "1e3", "y": "1"}, {"x": "", "y": ""},
    {"part": "R9", "x": "1", "y": "1"}, {"x": "1", "y": "1", "surface": "velvet"}, {"x": "9" * 400, "y": "1"},
])  # fmt: skip
def test_marks_that_no_picture_has(world: World, told: dict[str, str]) -> None:
    before = head()
    answer = post(world, **{"act": "mark", "part": "R1", **told})
    assert answer.status_code == 400
    assert all(words in answer.body.decode() for words in ("Found", "Allowed", "Next"))
    assert head() == before


def test_beside_a_good_specimen(world: World) -> None:
    """Half the rise on the good one: without marks it is found by its structure, with marks by them."""
    good = picture_of(world, world.other_visit, temperatures(21.0, 0.5))
    post(world, good, act="say", ambient="21")
    beside = look_at(world.thermal, world.edition)[1]
    assert beside.looks[0].placed.registration is not None
    assert beside.heats["R2"].difference == pytest.approx(15.0, abs=0.02)
    for number, (x, y, _) in WARM.items():
        assert post(world, good, act="mark", part=f"R{number}", x=str(x), y=str(y)).status_code == 302
    look, beside = look_at(world.thermal, world.edition)
    assert [one.filing.pk for one in beside.looks] == [good.pk]
    assert beside.heats["R2"].difference == pytest.approx(15.0, abs=0.02)
    assert beside.heats["R2"].verdict == "hotter"
    assert beside.heats["R3"].verdict == "as known-good"
    assert beside.looks[0].placed.placing is not None
    assert look.placed.placing is not None
    assert "+15" in page(world)


def test_the_picture_before_power(world: World) -> None:
    """A spot that is warm without power is no rise."""
    before = picture_of(world, world.visit, temperatures(20.0, 0.4), "before.csv")
    assert post(world, act="say", before=before.attachment.sha256).status_code == 302
    assert rises(world)["R2"] == pytest.approx(18.0, abs=0.02)
    strange = picture_of(world, world.other_visit, temperatures(20.5), "strange.csv")
    assert post(world, act="say", before=strange.attachment.sha256).status_code == 400


def test_a_unit_that_cannot_be_told(world: World) -> None:
    """Numbers about 74 are too hot a bench in degrees Celsius, and an ordinary room in Fahrenheit: a person says."""
    table = np.full((60, 80), 74.0)
    table[20:30, 30:40] = 95.0
    text = "\n".join(";".join(f"{one:.1f}" for one in row) for row in table)
    filing = picture_of(world, world.visit, text.encode(), "warm-room.csv")
    shown = page(world, filing)
    assert "without a unit" in shown
    assert post(world, filing, act="say", unit="degF").status_code == 302
    assert "without a unit" not in page(world, filing)
    assert post(world, filing, act="say", unit="furlong").status_code == 400


def test_a_picture_in_colours_holds_no_temperatures(world: World) -> None:
    filing = picture_of(world, world.visit, b"\xff\xd8\xff\xe0" + bytes(200), "colours.jpg")
    assert "shows colours and not temperatures" in page(world, filing)
    assert world.client().get(f"/file/{filing.pk}/heat.png").status_code == 404
    assert post(world, filing, **PUT).status_code == 400


def test_taken_away_is_taken_away(world: World) -> None:
    assert world.client().post(f"/file/{world.thermal.pk}/away/", {"why": "the wrong board"}).status_code == 302
    assert world.client().get(world.path("thermal")).status_code == 404
    assert world.client().get(world.path("heat_picture")).status_code == 404
    assert post(world, **PUT).status_code == 404


def test_readers_see_no_forms(world: World) -> None:
    text = world.client("reader").get(world.path("thermal")).body.decode()
    assert "R2" in text
    assert all(words not in text for words in ("Put the readings", "Mark it there", "Write it down"))


def test_colours_in_the_order_of_their_lightness(world: World) -> None:
    """Read back by Pillow: the hottest pixels are the lightest, as in grey print."""
    image = pytest.importorskip("PIL.Image")
    told = world.client().get(world.path("heat_picture"))
    assert told["Content-Type"] == "image/png"
    picture = image.open(io.BytesIO(told.body))
    picture.load()
    assert picture.size == (80, 60)
    rgb = np.asarray(picture.convert("RGB"), np.float64)[[15, 15, 15], [40, 20, 60]] / 255
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    lightness = 116 * np.cbrt(linear @ [0.2126, 0.7152, 0.0722]) - 16
    assert lightness[0] < lightness[1] - 5 < lightness[2] - 10
    large = image.open(io.BytesIO(world.client().get(f"{world.path('heat_picture')}?marks=3").body))
    assert large.size == (320, 240)


def test_every_step_of_the_scale_is_lighter(world: World) -> None:  # noqa: ARG001
    from kilter.exporters.heat_picture import palette

    rgb = palette()[:254] / 255
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    luminance = linear @ [0.2126, 0.7152, 0.0722]
    assert (np.diff(luminance) >= 0).all()
    assert np.diff(116 * np.cbrt(luminance) - 16).max() < 1.0


def test_brought_by_its_bytes(world: World) -> None:
    told = {"kind": "", "files": [SimpleUploadedFile("x.bin", temperatures(22.0))]}
    assert world.client().post(world.path("bring_to_visit"), told).status_code == 302
    assert Filing.objects.order_by("-pk")[0].kind == "thermal picture"


def test_log_of_the_visit_stands(world: World) -> None:
    assert len(log_of(world.visit).readings()) == 1
