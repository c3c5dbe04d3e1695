"""
From the plan of a soak to the report, in a real browser by plain forms, wide and narrow: plan, log, verdict, report.

The log is made so that its end is known: point V9 steps by two standard deviations after ten of sixteen hours, V5 is
steady. 959 minutes without failure prove T / -ln(1 - C) = 6.94 h with 90 % (NIST/SEMATECH e-Handbook, 8.4.5.1).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hands import WAIT_MS
from served import Served
from test_browser_every_page import findings

PLACE = "/object/1/visit/1/soak/"


def a_log(path: Path) -> Path:
    random = np.random.default_rng(11)
    five, nine = random.normal(5.0, 0.004, 960), random.normal(9.2, 0.01, 960)
    nine[600:] += 0.02
    rows = [f"{at},{one:.4f},{other:.4f}" for at, (one, other) in enumerate(zip(five, nine, strict=True))]
    path.write_text("\n".join(["time (min),V5 (V),V9 (V)", *rows]) + "\n")
    return path


@pytest.mark.parametrize(("width", "scheme", "script"), [(1280, "light", True), (360, "dark", False)])
def test_plan_log_verdict_report(
    chromium: Any, demonstration: Served, tmp_path: Path, width: int, scheme: str, script: bool
) -> None:
    context = chromium.new_context(viewport={"width": width, "height": 800}, color_scheme=scheme,
                                   java_script_enabled=script, bypass_csp=True)  # fmt: skip
    context.set_default_timeout(WAIT_MS)
    page = context.new_page()
    page.goto(demonstration.address)
    page.goto(demonstration.root + PLACE)
    if not page.locator("#logs").count():
        page.fill("#hours", "16")
        page.click("main form button")
    assert "4.750 V to 5.250 V" in page.inner_text("main")  # the band of the demonstration's board file
    page.goto(f"{demonstration.root}{PLACE}plan/")
    for place in range(page.locator("tbody tr").count()):
        if page.input_value(f"[name=name-{place}]") not in ("V5", "V9"):  # channels that this log does not have
            for field in ("name", "low", "high", "why"):
                page.fill(f"[name={field}-{place}]", "")
    page.fill("#words", "two rails alone")
    page.click("main form button")
    assert page.locator(".wrong[role=alert]").count() == 0
    if not page.locator("a:has-text('day 1.csv')").count():
        page.set_input_files("#logs", a_log(tmp_path / "day 1.csv"))
        page.click("form[action$='/logs/'] button")
    text = page.inner_text("main")
    assert "V9: changed" in text
    assert "V5: steady" in text
    assert "6.94 h" in text
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    if script:
        pictures = page.locator("main img.figure")
        assert pictures.count() == 2
        pictures.last.scroll_into_view_if_needed()
        page.wait_for_function("[...document.images].every(one => one.complete && one.naturalWidth > 100)")
        assert findings(page) == []
    page.fill("#words", "no smell")
    page.click("form[action$='/record/'] button")
    assert "This is recorded" in page.inner_text("main")
    page.goto(f"{demonstration.root}/object/1/report/")
    report = page.inner_text("body")
    for words in ("verdict changed", "no smell", "15.98 h watched", "6.94 h with 90 % confidence"):
        assert words in report, words
    assert "not that the object is safe" in report
    page.goto(f"{demonstration.root}/object/1/visit/1/proof/")
    if script:
        page.wait_for_function("[...document.images].every(one => one.complete && one.naturalWidth > 100)")
        assert findings(page) == []
    context.close()
