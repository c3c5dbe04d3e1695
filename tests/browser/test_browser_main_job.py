"""
The main job in a real browser: come in, receive an object, keep its board, open a visit, do the checks, read, repair.

The readings are those of the demonstration, which were simulated with R41 drifted high (`tests/demo/truth.toml`); which
part has to lead is taken from there. In a wide and in a narrow window everything is done with the keyboard alone; the
last run has no script at all.
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hands import BOARD_FILES, PASSWORD, WAIT_MS, leading, pressed, readings, tab_to, typed
from served import Served

TRUTH = tomllib.loads((Path(__file__).parents[1] / "demo" / "truth.toml").read_text("utf-8"))


ENTERED: set[str] = set()
"""Servers that know their first person by now."""


def window(browser: Any, width: int, height: int, *, script: bool) -> Any:
    context = browser.new_context(viewport={"width": width, "height": height}, java_script_enabled=script)
    context.set_default_timeout(WAIT_MS)
    page = context.new_page()
    page.on("console", lambda told: page.told.append(told.text) if told.type == "error" else None)
    page.told = []
    return page


def come_in(page: Any, served: Served) -> None:
    """The first window becomes the first person; later ones use the door."""
    if served.root not in ENTERED:
        ENTERED.add(served.root)
        page.goto(served.address)
        page.fill("#login", "me")
        page.fill("#name", "Somebody")
        page.fill("#password", PASSWORD)
        page.fill("#again", PASSWORD)
    else:
        page.goto(f"{served.root}/door/")
        page.fill("#login", "me")
        page.fill("#password", PASSWORD)
    page.press("#password" if page.locator("#again").count() == 0 else "#again", "Enter")
    page.wait_for_url(f"{served.root}/")


def no_wider(page: Any) -> None:
    """Nothing has to be moved sideways."""
    width = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    assert width[0] <= width[1], f"{page.url} is {width[0]} wide"


@pytest.mark.parametrize(("width", "height"), [(1280, 900), (360, 760)])
def test_main_job_by_keyboard(chromium: Any, served: Served, width: int, height: int) -> None:
    page = window(chromium, width, height, script=True)
    come_in(page, served)
    key = f"board-{width}"
    page.goto(f"{served.root}/boards/new/")
    typed(page, "#key", key)
    page.set_input_files("#files", BOARD_FILES)  # the list of files is the system's, not the page's
    pressed(page, "main button")
    assert "93 parts" in page.inner_text("main")
    no_wider(page)

    page.goto(f"{served.root}/object/new/")
    typed(page, "#number", f"HC {width}")
    typed(page, "#name", "Step computer")
    tab_to(page, "#board")
    page.keyboard.type(key)
    typed(page, "#why", "from the attic")
    page.keyboard.press("Enter")
    page.wait_for_selector("h1:has-text('HC')")
    assert page.locator("main a", has_text=key).count()
    pressed(page, "main a.button")
    typed(page, "#reason", "no sound")
    page.keyboard.press("Enter")
    page.wait_for_url("**/visit/1/")

    checks(page)
    read(page, readings()[4 if width > 1000 else 8 :])
    no_wider(page)
    repair(page, width)
    assert page.told == []
    page.context.close()


def checks(page: Any) -> None:
    """Every check before power, then a name under them."""
    page.goto(page.url + "power/")
    if page.locator("#plan p a").count():
        page.wait_for_selector("#plan table")  # comes by itself
    count = page.locator("fieldset legend").count()
    assert count == 7
    for place in range(count):
        tab_to(page, f"input[name=outcome-{place}]")
        page.keyboard.press("Space")
    pressed(page, "form[action$='/checks/'] button")
    assert page.locator("input[value=passed]:checked").count() == count
    pressed(page, "form[action$='/on/'] button")
    page.wait_for_url("**/bench/")


def read(page: Any, left: list[dict[str, str]]) -> None:
    """One reading after another, into the large field where it is asked for, else as a line; Tab and Enter alone."""
    before = leading(page)
    while left:
        asked = {name: page.locator(f"form input[name={name}]").first.get_attribute("value") or ""
                 for name in ("point", "quantity", "state")}  # fmt: skip
        one = next((row for row in left if all(row[name] == asked[name] for name in asked)), left[0])
        left.remove(one)
        known = page.locator(".known li").count()
        if all(one[name] == asked[name] for name in asked) and page.locator("#value").count():
            assert page.evaluate("document.activeElement.id") == "value", "the field to type into is not ready"
            page.keyboard.type(one["value"])
        else:
            typed(page, "#line", f"{one['point']} {one['quantity']} {one['value']} @{one['state']}")
        page.keyboard.press("Enter")
        page.wait_for_function("count => document.querySelectorAll('.known li').length > count", arg=known)
        assert page.locator(".wrong[role=alert]").count() == 0
    part, share = leading(page)
    assert part == TRUTH["visits"]["a"]["stages"][0]["culprit"]
    assert share > max(50.0, before[1])


def repair(page: Any, width: int) -> None:
    """The part is renewed: the bench is told, the record keeps what came out, power waits for the checks again."""
    bench = page.url
    tab_to(page, "#deed")
    page.keyboard.type("renewed")
    typed(page, "input[name=where]", "R41")
    page.keyboard.press("Enter")
    page.wait_for_selector(".gate-bar:has-text('Power off')")
    assert leading(page)[0] != "R41"
    about = bench.split("/visit/")[0] + "/"
    page.goto(f"{about}repair/")
    typed(page, "#part", "R41")
    tab_to(page, "#grade")
    page.keyboard.type("4")
    typed(page, "#words", "a metal film resistor of 100k, leaded solder")
    tab_to(page, "#visit")
    page.keyboard.type("1")
    tab_to(page, "input[name=removed]")
    page.keyboard.press("Space")
    typed(page, "#piece-words", "brown black yellow gold")
    typed(page, "#piece-place", "bag in the drawer")
    page.keyboard.press("Enter")
    page.wait_for_url(about)
    text = page.inner_text("main")
    assert f"HC {width}/P1" in text
    assert "a metal film resistor of 100k" in text
    for name, told in {"report/": "R41", "visit/1/": "R41", "history/": "record a repair"}.items():
        page.goto(about + name)
        assert told in page.inner_text("body")
        no_wider(page)


def test_without_script(chromium: Any, served: Served) -> None:
    """Every step is a plain form: what script adds is ease, not function."""
    page = window(chromium, 1280, 900, script=False)
    come_in(page, served)
    page.goto(f"{served.root}/boards/new/")
    page.fill("#key", "board-plain")
    page.set_input_files("#files", BOARD_FILES)
    page.click("main button")
    page.goto(f"{served.root}/object/new/")
    page.fill("#number", "HC plain")
    page.fill("#name", "Step computer")
    page.select_option("#board", "board-plain")
    page.click("main button")
    page.click("main a.button >> nth=0")
    page.fill("#reason", "no sound")
    page.click("main button")
    visit = page.url
    page.goto(f"{visit}power/")
    for place in range(7):
        page.check(f"input[name=outcome-{place}][value=passed]")
    page.click("form[action$='/checks/'] button")
    page.click("form[action$='/on/'] button")
    for one in readings()[10:12]:
        page.fill("#line", f"{one['point']} {one['quantity']} {one['value']} @{one['state']}")
        page.press("#line", "Enter")
        assert page.locator(".wrong[role=alert]").count() == 0
    assert page.locator(".known li").count() == 3  # the checks and the readings
    page.fill("#line", "OUT 4x7 V @bench")
    page.press("#line", "Enter")
    assert "4x7" in page.inner_text(".wrong")
    assert page.input_value("#line") == "OUT 4x7 V @bench"
    page.goto(f"{visit}power/plan/")
    assert page.locator("#plan table").count()
    page.goto(f"{served.root}/?words=plain")
    assert page.locator("tbody tr").count() == 1
    page.context.close()
