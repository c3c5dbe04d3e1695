"""What README and docs show is what the commands print. When it is not: python builders/build_shown_output.py."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "builders"))

from build_shown_output import PAGES, printed, shown  # noqa: E402

SHOWN = [(name, *one) for name in PAGES for one in shown((ROOT / name).read_text("utf-8"))]
STAMP = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ")
NUMBER = re.compile(r"(?<![A-Za-z0-9_.])\d[\d,]*(?:\.\d+)?")
RELATIVE, ABSOLUTE = 0.1, 0.11
"""How far a number may be off: other versions of numpy sum in another order, and what is printed is rounded."""


@pytest.mark.parametrize(
    ("page", "command", "output"), SHOWN, ids=[f"{page}-{place}" for place, (page, *_) in enumerate(SHOWN)]
)
def test_shown_output(page: str, command: str, output: str) -> None:
    now, then = (STAMP.sub("TIME", text) for text in (printed(command), output))
    assert _words(now) == _words(then), f"{page}: $ {command}"
    pairs = zip(_numbers(now), _numbers(then), strict=True)
    off = [(a, b) for a, b in pairs if abs(a - b) > max(ABSOLUTE, RELATIVE * abs(b))]
    assert off == [], f"{page}: $ {command}"


def test_pages_show_something() -> None:
    assert {page for page, _, _ in SHOWN} == set(PAGES)
    assert any(command.startswith("kilter diagnose") for _, command, _ in SHOWN)
    assert all(len(output) > 100 for _, _, output in SHOWN)


def _words(text: str) -> list[str]:
    """The text without its numbers, its bars and the places of its line breaks."""
    return re.sub(r"[#.]{20}", "BAR", NUMBER.sub("N", text)).split()


def _numbers(text: str) -> list[float]:
    return [float(one.replace(",", "")) for one in NUMBER.findall(text)]
