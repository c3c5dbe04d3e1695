"""Faulty dumps made one word at a time from the electrical meaning of each fault, apart from the code under test."""

from __future__ import annotations

from collections.abc import Callable


def bits(value: int, lines: int) -> list[int]:
    return [value >> line & 1 for line in range(lines)]


def number(levels: list[int]) -> int:
    return sum(level << line for line, level in enumerate(levels))


def _stuck(level: int) -> Callable[[list[int], tuple[int, ...]], None]:
    def change(levels: list[int], lines: tuple[int, ...]) -> None:
        levels[lines[0]] = level

    return change


def _short(wins: Callable[[int, int], int]) -> Callable[[list[int], tuple[int, ...]], None]:
    def change(levels: list[int], lines: tuple[int, ...]) -> None:
        levels[lines[0]] = levels[lines[1]] = wins(levels[lines[0]], levels[lines[1]])

    return change


def _swap(levels: list[int], lines: tuple[int, ...]) -> None:
    levels[lines[0]], levels[lines[1]] = levels[lines[1]], levels[lines[0]]


def _invert(levels: list[int], lines: tuple[int, ...]) -> None:
    levels[lines[0]] = 1 - levels[lines[0]]


WIRE = {"stuck_low": _stuck(0), "stuck_high": _stuck(1), "short_and": _short(min), "short_or": _short(max),
        "swap": _swap, "inverted": _invert}  # fmt: skip


def faulty(image: list[int], width: int, kind: str, lines: tuple[int, ...]) -> list[int]:
    """What a reader gets from a memory that holds the image, with one fault of its address or data lines."""
    where, change = kind.split("_", 1)
    count = (len(image) - 1).bit_length()
    read = []
    for address in range(len(image)):
        levels = bits(address, count)
        if where == "address":
            WIRE[change](levels, lines)
        word = bits(image[number(levels)], width)
        if where == "data":
            WIRE[change](word, lines)
        read.append(number(word))
    return read
