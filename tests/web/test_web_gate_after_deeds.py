"""Anything done to the object outdates the checks before power: common practice, no source."""

from __future__ import annotations

from web_world import World

from kilter.wiring.power_gate import checks_wanted, outdated
from kilter.wiring.record_bench import board_of


def all_passed(world: World) -> dict[str, str]:
    page = world.client("repairer").get(world.path("gate")).body.decode()
    told = {f"outcome-{place}": "passed" for place in range(len(checks_wanted()))}
    for place in range(len(checks_wanted())):
        mark = f'name="seen-{place}" value="'
        told[f"seen-{place}"] = page.split(mark)[1].split('"')[0] if mark in page else ""
    return told


def passing(world: World) -> int:
    told = {"means": "passed", "after": str(world.visit.entries.count())}
    return int(world.client("repairer").post(world.path("let_power_on"), told).status_code)


def deed(world: World) -> None:
    edition = world.visit.board_now()
    assert edition is not None
    part = next(iter(board_of(edition).parts))
    told = {"act": "deed", "deed": "renewed", "where": part, "after": str(world.visit.entries.count())}
    assert world.client("repairer").post(world.path("take"), told).status_code == 303


def test_checks_are_done_again_after_a_deed(world: World) -> None:
    client = world.client("repairer")
    assert client.post(world.path("take_checks"), all_passed(world)).status_code == 302
    assert passing(world) == 302
    deed(world)
    assert outdated(world.visit) == frozenset(checks_wanted())
    assert passing(world) == 400  # what was passed before says nothing about the object as it is now
    page = client.get(world.path("gate")).body.decode()
    assert "before the last thing done to the object" in page
    assert "checked" not in page  # nothing is chosen beforehand
    assert client.post(world.path("take_checks"), all_passed(world)).status_code == 302
    assert outdated(world.visit) == frozenset()
    assert passing(world) == 302


def test_some_done_again_are_not_all(world: World) -> None:
    client = world.client("repairer")
    assert client.post(world.path("take_checks"), all_passed(world)).status_code == 302
    deed(world)
    told = {name: value for name, value in all_passed(world).items() if not name.endswith("-0")}
    assert client.post(world.path("take_checks"), told).status_code == 302
    assert len(outdated(world.visit)) == 1
    assert passing(world) == 400
