"""
A temperature picture in a real browser: brought, parts marked by pressing it, readings, and suspects that move.

On the pictures U1, the regulator, is 60 K above the room on the object and 12 K on the good specimen. That a part which
runs that hot is suspected more than before is common practice, no source; the pictures are known by construction.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from served import Served
from test_browser_every_page import findings, looked_at
from warm_pictures import GOOD, OBJECT, drawn, pixel

PLACED = ("RJ1", "DS1", "RLS1", "C40")


@pytest.fixture(scope="module")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("warm")
    good, own = folder / "good.csv", folder / "object.csv"
    good.write_text(drawn(GOOD, {"U1": 12.0, "U6": 8.0}, 1))
    own.write_text(drawn(OBJECT, {"U1": 60.0, "U6": 8.0}, 2))
    return good, own


def bring(page: Any, served: Served, visit: str, file: Path) -> str:
    """Brings a file whose kind its bytes tell; the address of its page."""
    page.goto(served.root + visit)
    page.locator("summary", has_text="Bring files").click()
    page.set_input_files("#files", str(file))
    with page.expect_navigation():
        page.click("form[enctype] button")
    return str(page.locator(".pictures a", has_text="what it tells").last.get_attribute("href"))


def a_visit(page: Any, served: Served, number: int, *, good: bool) -> str:
    """A new visit to an object of the demonstration; its address."""
    page.goto(f"{served.root}/object/{number}/visit/")
    page.fill("#reason", "to compare with" if good else "found dead")
    if good:
        page.check("[name=known_good]")
    with page.expect_navigation():
        page.locator("main form button").first.click()
    return str(page.url.removeprefix(served.root))


def press(page: Any, ref: str, spot: tuple[float, float], surface: str = "") -> None:
    """Presses the picture at a pixel of the camera; each is drawn as two by two."""
    page.select_option("#part", ref)
    page.select_option("#surface", surface)
    with page.expect_navigation():
        page.locator("input[type=image]").click(position={"x": 2 * spot[0] + 1, "y": 2 * spot[1] + 1})
    assert page.locator(".wrong[role=alert]").count() == 0
    assert page.locator(".known li", has_text=ref).count() == 1


def share(page: Any, bench: str, ref: str) -> float:
    """What the bench gives a part, in per cent; 0 where it is not among the first suspects."""
    page.goto(bench)
    row = page.locator(".suspect", has=page.locator(".name", has_text=ref))
    if not row.count():
        return 0.0
    return float(row.first.locator(".share").inner_text().replace("%", "").replace("over", "").replace("under", ""))



def test_marks_to_suspects(chromium: Any, demonstration: Served, pictures: tuple[Path, Path]) -> None:
    page = looked_at(chromium, demonstration, 1280, "light")
    good = bring(page, demonstration, a_visit(page, demonstration, 6, good=True), pictures[0])
    page.goto(demonstration.root + good)
    for ref in PLACED:
        press(page, ref, pixel(GOOD, ref))
    assert "The board was placed by 4 marks" in page.inner_text("main")

    visit = a_visit(page, demonstration, 2, good=False)
    page.goto(f"{demonstration.root}{visit}power/")
    page.locator("summary", has_text="Go on without the checks").click()
    page.fill("#why", "a demonstration: nothing is switched on")
    with page.expect_navigation():
        page.locator("button.stop").click()
    bench = f"{demonstration.root}{visit}bench/"
    before = share(page, bench, "U1")
    own = bring(page, demonstration, visit, pictures[1])
    page.goto(demonstration.root + own)
    assert "found by its structure" in page.inner_text("main")
    press(page, "U1", pixel(OBJECT, "U1"), "plastic")
    row = page.locator("tr", has=page.locator("th", has_text="U1")).first
    assert "hotter" in row.inner_text()
    assert row.locator("input[type=checkbox]").is_checked()
    assert findings(page) == []
    for box in page.locator("input[name=part][type=checkbox]").all():
        if box.is_checked() and box.get_attribute("value") != "U1":
            box.uncheck()
    with page.expect_navigation():
        page.locator("button", has_text="Put the readings into the visit").click()
    assert page.locator(".known li", has_text="temperature_rise").count() == 1
    after = share(page, bench, "U1")
    assert after > max(10.0, 3 * before)
    page.goto(demonstration.root + own)
    assert "1 entry of the visit comes from this file" in page.inner_text("main")
    page.context.close()
