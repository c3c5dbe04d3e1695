"""
A phone in the hall: hours read off the meter, an inspection written down, what is due, and the calendar taken along.

The calendar is read by the library icalendar; accessibility is judged by the axe engine (WCAG 2.2, level AA). In the
first run everything is typed, in the second there is no script.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hands import WAIT_MS, pressed, tab_to, typed
from served import Served


def window(browser: Any, served: Served, *, script: bool) -> Any:
    context = browser.new_context(viewport={"width": 360, "height": 760}, java_script_enabled=script,
                                  accept_downloads=True, bypass_csp=True)  # fmt: skip
    context.set_default_timeout(WAIT_MS)
    page = context.new_page()
    page.goto(served.address)
    return page


@pytest.mark.parametrize("script", [True, False])
def test_hours_then_what_is_due_then_the_calendar(chromium: Any, demonstration: Served, script: bool) -> None:
    icalendar = pytest.importorskip("icalendar", reason="the library that reads calendars is not installed")
    page, root = window(chromium, demonstration, script=script), demonstration.root
    page.goto(f"{root}/display/")
    page.get_by_role("link", name="HC 0416").first.click()
    before = page.locator("svg.course line.counted").count()
    page.get_by_role("link", name="Write down hours").click()
    shown = page.inner_text("main p strong")
    assert shown.endswith("h")
    hours = float(shown.split()[0]) + (2.5 if script else 1.5)
    if script:
        typed(page, "#hours", f"{hours:g}")
        pressed(page, "main form button")
    else:
        page.fill("#hours", f"{hours:g}")
        page.click("main form button")
    page.wait_for_url("**/display/")
    assert page.locator("svg.course line.counted").count() == before + 1
    told = inspected(page, script=script)
    with page.expect_download() as taken:
        page.get_by_role("link", name="Calendar file").click()
    with open(taken.value.path(), "rb") as file:
        calendar = icalendar.Calendar.from_ical(file.read())
    days = {str(one["SUMMARY"]): one.decoded("DTSTART") for one in calendar.walk("VEVENT")}
    assert days["HC 0416: Electrical inspection by a competent person (kilter inspection)"] == told
    page.goto(f"{root}/display/")
    row = page.locator("tr", has_text=told.isoformat()).first.inner_text()
    assert "Electrical inspection" in row
    page.context.close()


def inspected(page: Any, *, script: bool) -> Any:
    """Something was found, and is to be looked at again in some days; gives that day."""
    again = datetime.now(UTC).date() + timedelta(5 if script else 4)
    page.get_by_role("link", name="Electrical inspection").first.click()
    assert page.input_value("#key") == "electrical"
    page.check("input[name=outcome][value='something found']")
    page.fill("#words", "the lead is brittle near the plug")
    page.fill("#again", again.isoformat())
    if script:
        tab_to(page, "main form button")
        page.keyboard.press("Enter")
    else:
        page.click("main form button")
    page.wait_for_url("**/display/")
    assert again.isoformat() in page.inner_text("main")
    return again


def test_pages_of_the_display_are_for_all(chromium: Any, demonstration: Served) -> None:
    """Every form and page of the display, in a narrow window: the rules of axe, and nothing to move sideways."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="the rules are not installed")
    page, wrong = window(chromium, demonstration, script=True), []
    for place in ("", "ahead/", *(f"../object/6/display/{one}" for one in (
        "", "hours/", "inspection/", "place/?supersedes=1", "wear/", "renewed/")),
        "hours/1/back/", "../object/1/display/", "../object/4/display/"):  # fmt: skip
        page.goto(f"{demonstration.root}/display/{place}")
        inner, outer = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
        wrong += [f"{place} is {inner} wide in a window of {outer}"] if inner > outer else []
        rules = {"resultTypes": ["violations"], "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
        found = axe.Axe().run(page, options=rules).response["violations"]
        wrong += [f"{place}: {one['id']}: {one['nodes'][0]['target']}" for one in found
                  if one["impact"] in ("serious", "critical")]  # fmt: skip
    page.context.close()
    assert wrong == [], "\n".join(wrong)
