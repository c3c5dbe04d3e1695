"""
From the outcome of a visit to what is learned from it, in a real browser: by keyboard, and the pages at 360 pixels.

That nothing is wider than the window: WCAG 2.2, success criterion 1.4.10 (Reflow). The rules of axe-core are tried on
every page by another test, which follows the links.
"""

from __future__ import annotations

from typing import Any

import pytest
from hands import WAIT_MS, pressed, tab_to, typed
from served import Served

WIDTHS = (1280, 360)


@pytest.mark.parametrize("width", WIDTHS)
def test_from_the_outcome_to_what_is_learned(chromium: Any, demonstration: Served, width: int) -> None:
    page = chromium.new_page(viewport={"width": width, "height": 800})
    page.set_default_timeout(WAIT_MS)
    page.goto(demonstration.address)
    page.goto(f"{demonstration.root}/object/2/visit/")
    typed(page, "#reason", f"no lamp, at {width} pixels")
    page.keyboard.press("Enter")
    page.wait_for_url("**/visit/*/")
    visit = page.url
    page.goto(f"{visit}bench/")
    typed(page, "#line", "C1 look bulged @off")
    page.keyboard.press("Enter")
    page.wait_for_selector(".known li >> nth=0")
    typed(page, "#deed", "renewed")
    typed(page, "input[name=where]", "C1")
    page.keyboard.press("Enter")
    page.wait_for_selector(".known li >> nth=1")

    page.goto(f"{visit}outcome/")
    assert page.is_checked("input[name=faulty-0]"), "the renewed part is proposed"
    assert not page.locator("input[name=works]:checked").count(), "whether it works is for a person to say"
    tab_to(page, "input[name=works]")
    page.keyboard.press("Space")
    tab_to(page, "input[name=close]")
    page.keyboard.press("Space")
    typed(page, "#said-by", "the keeper")
    pressed(page, "main form button:not(.quiet)")
    assert "C1" in page.inner_text(".told")
    assert "works again" in page.inner_text(".told")

    page.goto(f"{demonstration.root}/learned/")
    no_wider(page)
    pressed(page, "form[action$='/now/'] button")
    page.wait_for_selector("#job:has-text('learned from')")
    page.goto(f"{demonstration.root}/learned/")
    assert "aluminium electrolytic capacitor" in page.inner_text("table.odds")
    assert page.locator("svg.reliability circle").count() > 0
    no_wider(page)
    page.goto(f"{demonstration.root}/object/1/visit/1/bench/")
    assert "of this collection" in page.inner_text("main")
    for address in ("sharing/", "sharing/out/", "sharing/in/", "sharing/keys/new/", "learned/1/"):
        page.goto(f"{demonstration.root}/{address}")
        no_wider(page)
    page.close()


def no_wider(page: Any) -> None:
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"), page.url
