"""
A meter log brought to a visit: figures of a stretch, and its reading in the visit.

Values are known by construction (warm_up in web_world.py); mean and spread against the statistics module, the slope
against scipy's linear regression.
"""

from __future__ import annotations

import io
import re
import statistics
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from scipy.stats import linregress
from web_world import World, warm_up

from kilter.measure.instruments import instrument
from kilter.store.journal import head
from kilter.store.models import Filing
from kilter.store.verbs.files import attach
from kilter.store.verbs.visits import EVIDENCE

ROWS = [tuple(map(float, line.split(","))) for line in warm_up().decode().splitlines()[1:]]
STRETCH = {"from": "70", "to": "110"}
PUT = {"act": "put", "point": "B", "state": "bench", **STRETCH}


def values(start: float, end: float) -> list[float]:
    return [value for second, value in ROWS if start * 60 <= second <= end * 60]


def page(world: World, **query: str) -> str:
    told = world.client().get(world.path("meter_log"), query)
    assert told.status_code == 200
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", told.body.decode()))


def test_the_whole_and_a_stretch(world: World) -> None:
    text = page(world)
    slope = linregress([second / 3600 for second, _ in ROWS], [value for _, value in ROWS]).slope
    told = re.findall(r"straight line, an hour (\d+) ± \d+ mV", text)
    assert abs(float(told[0]) - 1000 * slope) < 6
    assert "slow movement seen" in text
    minute = float(re.findall(r"From minute ([\d.]+) on", text)[0])
    assert 54 <= minute <= 66  # the ramp ends at minute 60; begins are tried every six minutes
    text = page(world, **STRETCH)
    assert "The stretch that was chosen" in text
    assert "slow movement none seen" in text
    assert "5.00" in re.findall(r"middle and spread ([^l]*) least", text)[0]


def test_its_reading(world: World) -> None:
    before, entries = head()[0], world.visit.entries.count()
    told = world.client().post(world.path("meter_log"), PUT)
    assert told.status_code == 302
    assert head()[0] == before + 1
    row = world.visit.entries.order_by("number")[entries]
    mean, spread = statistics.fmean(values(70, 110)), statistics.stdev(values(70, 110))
    own = instrument("dmm").standard_uncertainty("voltage", mean)
    assert (row.point, row.quantity, row.state, row.instrument) == ("B", "voltage", "bench", "dmm")
    assert row.value == pytest.approx(mean, rel=1e-9)
    assert row.uncertainty == pytest.approx((own**2 + spread**2) ** 0.5, rel=1e-6)
    assert row.words[EVIDENCE] == world.log.attachment.sha256
    assert "mean of 41 entries" in row.words["note"]
    assert "1 entry of the visit comes from this file" in page(world)
    again = world.client().post(world.path("meter_log"), {**PUT, "from": "80"})
    assert again.status_code == 400
    assert "told already" in again.body.decode()


@pytest.mark.parametrize("told", [
    {"point": ""}, {"point": "nowhere"}, {"state": "off"}, {"state": "none such"}, {"quantity": "resistance"},
    {"column": "1"}, {"column": "x"}, {"instrument": "eye"}, {"from": "110", "to": "70"},
    {"from": "500", "to": ""}, {"to": "1e3"}, {"from": "nan"}, {"from": "-1"}, {"act": "x"},
], ids=str)  # fmt: skip
def test_what_cannot_be_taken(world: World, told: dict[str, str]) -> None:
    before = head()
    answer = world.client().post(world.path("meter_log"), {**PUT, **told})
    assert answer.status_code == 400
    text = answer.body.decode()
    assert all(words in text for words in ("Found", "Allowed", "Next"))
    assert head() == before


def test_looking_changes_nothing(world: World) -> None:
    before = head()
    for role in ("reader", "recorder"):
        told = world.client(role).post(world.path("meter_log"), {**PUT, "act": "look"})
        assert told.status_code == 302
        assert told["Location"].endswith("?from=70&to=110")
    for query in ({"from": "x"}, {"column": "7"}, {"from": "900"}, {"to": "9" * 50}):
        assert "Allowed" in page(world, **query)
    assert world.client("reader").post(world.path("meter_log"), PUT).status_code == 403
    assert head() == before


def test_not_before_the_checks(world: World) -> None:
    deed = {"act": "deed", "deed": "renewed", "where": "R1", "after": str(world.visit.entries.count())}
    assert world.client().post(world.path("take"), deed).status_code == 303
    before = head()
    assert world.client().post(world.path("meter_log"), PUT).status_code == 400
    assert head() == before


def test_brought_by_its_bytes(world: World) -> None:
    told = {"kind": "", "files": [SimpleUploadedFile("x.dat", warm_up())]}
    assert world.client().post(world.path("bring_to_visit"), told).status_code == 302
    assert Filing.objects.order_by("-pk")[0].kind == "meter log"


def shown(world: World, content: bytes) -> Any:
    filing = attach(world.scene.who("recorder"), io.BytesIO(content), "odd.csv", "meter log", "text/plain",
                    about=world.object, visit=world.visit)  # fmt: skip
    return world.client().get(f"/file/{filing.pk}/log/")


@pytest.mark.parametrize("content", [
    b"time (s),voltage (V)\n0,OL\n1,OL\n2,5\n3,\n", b"time (s),voltage (V)\n0,5\n", b"time (s),x\n0,5\n1,5\n2,5\n",
    b"time (s),voltage (V)\n0,OL\n1,OL\n", b"V,A\n1,2\n3,4\n", b"time (s),voltage (V)\n5,1\n5,1\n5,1\n",
    b"time (s),voltage (V)\n0,1e300\n1,-1e300\n2,0\n", b"\x00" * 50, b"nothing", b"\xff\xd8\xff\xe0" * 20,
])  # fmt: skip
def test_odd_logs_are_shown_or_refused(world: World, content: bytes) -> None:
    answer = shown(world, content)
    assert answer.status_code == 200
    text = answer.body.decode()
    assert "<polyline" in text or "▲" in text or "Allowed" in text or "<svg" in text
    assert "nan" not in re.findall(r'points="[^"]*"', text)
    assert "Traceback" not in text
