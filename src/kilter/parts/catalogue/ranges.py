"""Ranges in the catalogue's notation: 'A{0..3}' stands for A0 A1 A2 A3."""

from __future__ import annotations

import re

RANGE = re.compile(r"\{(\d+)\.\.(\d+)\}")


def expand(text: str) -> list[str]:
    """
    The text once for each number of its ranges, which all advance together; as it is where it has none.

    Raises:
        ValueError: Its ranges are of different lengths.

    >>> expand("D{2..0}"), expand("S{2..3} = c{1..2}"), expand("VCC")
    (['D2', 'D1', 'D0'], ['S2 = c1', 'S3 = c2'], ['VCC'])
    """
    ranges = [_numbers(int(first), int(last)) for first, last in RANGE.findall(text)]
    if not ranges:
        return [text]
    if len({len(numbers) for numbers in ranges}) > 1:
        raise ValueError(f"ranges of different lengths in '{text}'")
    found = []
    for row in zip(*ranges, strict=True):
        numbers = iter(row)
        found.append(RANGE.sub(lambda _, numbers=numbers: str(next(numbers)), text))  # type: ignore[misc]
    return found


def expand_words(text: str) -> list[str]:
    """
    Every word of a list, ranges expanded.

    >>> expand_words("GND A{0..1} VCC")
    ['GND', 'A0', 'A1', 'VCC']
    """
    return [word for written in text.split() for word in expand(written)]


def _numbers(first: int, last: int) -> range:
    return range(first, last + 1) if first <= last else range(first, last - 1, -1)
