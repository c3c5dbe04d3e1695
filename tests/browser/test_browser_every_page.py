"""
Every page that a link leads to: accessible to all, nothing to move sideways on a telephone, dark where asked, on paper.

What is looked for is not ours: the rules of the axe engine for the Web Content Accessibility Guidelines 2.2; that
content fits a narrow window without sideways scrolling is their success criterion 1.4.10.
"""

from __future__ import annotations

from typing import Any

import pytest
from hands import WAIT_MS
from served import Served

BAD = ("serious", "critical")
RULES = {"resultTypes": ["violations"], "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}


def findings(page: Any) -> list[str]:
    """Serious and critical findings of the engine, as lines."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="the rules are not installed")
    found = axe.Axe().run(page, options=RULES).response["violations"]
    return [
        f"{page.url}: {one['id']} ({one['impact']}): {node['target']} {node['failureSummary'][:200]}"
        for one in found if one["impact"] in BAD for node in one["nodes"][:3]
    ]  # fmt: skip


def looked_at(browser: Any, served: Served, width: int, scheme: str) -> Any:
    context = browser.new_context(viewport={"width": width, "height": 760}, color_scheme=scheme,
                                  reduced_motion="reduce", bypass_csp=True)  # fmt: skip
    # the policy is passed by, since the rules are put into the page from outside
    context.set_default_timeout(WAIT_MS)
    page = context.new_page()
    page.goto(served.address)
    return page


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (360, "dark")])
def test_every_page(chromium: Any, furnished: tuple[Served, list[str]], width: int, scheme: str) -> None:
    served, pages = furnished
    page, wrong = looked_at(chromium, served, width, scheme), []
    for place in pages:
        page.goto(served.root + place)
        inner, outer = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
        wrong += [f"{place} is {inner} wide in a window of {outer}"] if inner > outer else []
        wrong += findings(page)
        if scheme == "dark":
            light = page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
            dark = sum(int(one) for one in light.strip("rgba()").split(",")[:3]) < 3 * 80
            wrong += [] if dark or "/report/" in place else [f"{place} is light in the dark: {light}"]
    page.context.close()
    assert len(pages) > 25
    assert wrong == [], "\n".join(wrong)


def test_on_paper(chromium: Any, furnished: tuple[Served, list[str]]) -> None:
    """Buttons, forms and the menu stay on the screen; what was folded away is printed."""
    served, _ = furnished
    page = looked_at(chromium, served, 1280, "dark")
    for place in ("/object/1/", "/object/1/visit/1/", "/object/1/visit/1/bench/"):
        page.goto(served.root + place)
        page.emulate_media(media="print")
        assert page.locator("header.top").is_hidden()
        assert page.locator("button:visible").count() == 0
        assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
        folded = page.locator("details:not([open]) li")
        assert all(folded.nth(one).is_visible() for one in range(folded.count()))
        page.emulate_media(media="screen")
    page.context.close()


def test_the_bench_can_be_heard(chromium: Any, furnished: tuple[Served, list[str]]) -> None:
    """What changes after an answer is told to who cannot see it: as a status, or as an alert."""
    served, _ = furnished
    page = looked_at(chromium, served, 1280, "light")
    page.goto(f"{served.root}/object/1/visit/1/bench/")
    page.fill("#line", "OUT 4x7 V @bench")
    page.press("#line", "Enter")
    page.wait_for_selector("[role=alert]")
    assert page.input_value("#line") == "OUT 4x7 V @bench"
    page.fill("#line", "OUT voltage 1.325 V @bench")
    page.press("#line", "Enter")
    page.wait_for_selector("[role=status].told")
    assert page.locator("[role=alert]").count() == 0
    assert findings(page) == []
    page.context.close()
