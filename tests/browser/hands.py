"""What a person does at a browser, with the keyboard alone where the page has script, and by plain forms where not."""

from __future__ import annotations

import csv
from importlib.resources import files
from pathlib import Path
from typing import Any

PASSWORD = "eleven teal kettles"
DEMO = files("kilter.data") / "demo"
BOARD_FILES = [str(DEMO / "board.toml"), str(DEMO / "board.cir")]
WAIT_MS = 60_000
MOST_TABS = 120


def readings() -> list[dict[str, str]]:
    """Of the demonstration's first visit."""
    lines = Path(str(DEMO / "a.csv")).read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def tab_to(page: Any, wanted: str) -> None:
    """
    Moves the focus with the Tab key until it is where it should be.

    Raises:
        AssertionError: The key does not lead there.
    """
    for _ in range(MOST_TABS):
        if page.evaluate("wanted => document.activeElement && document.activeElement.matches(wanted)", wanted):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"the Tab key does not lead to {wanted}")


def typed(page: Any, wanted: str, text: str) -> None:
    """Goes there by the Tab key and types, in place of what stood there."""
    tab_to(page, wanted)
    page.keyboard.press("Control+A")
    page.keyboard.type(text)


def chosen(page: Any, wanted: str, label: str) -> None:
    """Goes to a list by the Tab key and chooses by typing the beginning of a line."""
    tab_to(page, wanted)
    page.keyboard.type(label)


def pressed(page: Any, wanted: str) -> None:
    """Goes to a button or link by the Tab key and presses Enter; waits for the page that comes."""
    tab_to(page, wanted)
    with page.expect_navigation():
        page.keyboard.press("Enter")


def leading(page: Any) -> tuple[str, float]:
    """The part that leads the suspects, and its probability in per cent."""
    first = page.locator(".suspect").first
    share = first.locator(".share").inner_text().replace("%", "").replace(",", ".").strip()
    return first.locator(".name").inner_text(), float(share)
