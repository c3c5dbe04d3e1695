"""
A capture's readings go through the same door as typed ones, all of them or none.

The capture is level at 5 V with a millivolt of noise (web_world.py); that a reading with power on waits for the checks
is the rule of docs/pages.md.
"""

from __future__ import annotations

import io
from typing import Any

import pytest
from web_world import World, written

from kilter.store.journal import head
from kilter.store.models import Filing, JournalRow
from kilter.store.verbs.files import attach
from kilter.store.verbs.visits import EVIDENCE

STEPS = [(step / 1000, step % 2 / 1000) for step in range(200)]
TWO = "second,one,other\n" + "".join(f"{at},{5 + noise},{2 + noise}\n" for at, noise in STEPS)


def two_channels(world: World, text: str = TWO) -> Filing:
    return attach(world.scene.who("recorder"), io.BytesIO(text.encode()), "two.csv", "capture", "text/plain",
                  about=world.object, visit=world.visit)  # fmt: skip


def post(world: World, filing: Filing, **told: str) -> Any:
    return world.client().post(f"/file/{filing.pk}/capture/", {"state": "bench", **told})


def test_both_channels_in_one_piece(world: World) -> None:
    filing, entries = two_channels(world), world.visit.entries.count()
    before = head()[0]
    assert post(world, filing, **{"at-0": "A", "at-1": "B"}).status_code == 302
    rows = list(world.visit.entries.order_by("number"))[entries:]
    voltages = {row.point: row.value for row in rows if row.quantity == "voltage"}
    assert voltages == pytest.approx({"A": 5.0005, "B": 2.0005}, abs=0.01)
    assert {row.words[EVIDENCE] for row in rows} == {filing.attachment.sha256}
    assert head()[0] == before + 1
    assert JournalRow.objects.order_by("-number")[0].evidence == filing.attachment.sha256


@pytest.mark.parametrize("told", [
    {"at-0": "A", "at-1": "nowhere"}, {}, {"at-0": "A", "state": "off"}, {"at-0": "A", "state": "none such"},
], ids=["no such point", "no channel", "power off", "no such state"])  # fmt: skip
def test_or_none(world: World, told: dict[str, str]) -> None:
    filing = two_channels(world)
    before = head()
    assert post(world, filing, **told).status_code == 400
    assert head() == before


def test_a_channel_that_tells_nothing_is_said(world: World) -> None:
    """What cannot be weighed is not dropped beside what can: a current through a point tells nothing on this board."""
    filing = two_channels(world, TWO.replace("second,one,other", "second (s),one (V),other (A)"))
    before = head()
    answer = post(world, filing, **{"at-0": "A", "at-1": "B"})
    assert answer.status_code == 400
    assert head() == before


def test_not_before_the_checks(world: World) -> None:
    filing = two_channels(world)
    deed = {"act": "deed", "deed": "renewed", "where": "R1", "after": str(world.visit.entries.count())}
    assert world.client().post(world.path("take"), deed).status_code == 303
    before = head()
    answer = post(world, filing, **{"at-0": "A"})
    assert answer.status_code == 400
    assert "before the power checks" in answer.body.decode()
    assert head() == before


def test_twice_would_count_twice(world: World) -> None:
    filing = two_channels(world)
    assert post(world, filing, **{"at-0": "A"}).status_code == 302
    before = written()
    assert post(world, filing, **{"at-0": "A", "at-1": "B"}).status_code == 400
    assert written() == before
    assert post(world, filing, **{"at-1": "B"}).status_code == 302
