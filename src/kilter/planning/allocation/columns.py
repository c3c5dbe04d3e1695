"""
The ways in which one object can be served: which findings are provided for, with pieces of which grades.

The chance that the object then works is the sum over the findings provided for of their chance times the product of
the chances of the pieces it would use; that product cannot be written as a sum, so every way is a column of its own.
Pieces are set aside for the largest need of the findings provided for; those that the true finding does not need go
back on the shelf. A way that leaves less than the least chance is none.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, combinations_with_replacement, product
from math import comb, prod

from kilter.planning.allocation.problem import Bundle, Finding, Wanting
from kilter.planning.numbers import number

Grades = tuple[int, ...]
"""Grades of the pieces for one need, the best first."""


@dataclass(frozen=True)
class Column:
    """
    One way to serve one object.

    Args:
        place: Of the object in the sorted list.
        use: Pieces set aside by (part wanted, grade at least).
        chance: That the object then works.
        pieces: For each part wanted, the grades.
    """

    place: int
    use: Mapping[tuple[str, int], int]
    chance: float
    pieces: Mapping[str, Grades]


@dataclass(frozen=True)
class OpenWays:
    """
    Ways to serve one object that are too many to be columns each; only those with pieces of one grade are.

    Args:
        place: Of the object.
        reserve: Pieces set aside.
        findings: That they provide for.
        found: For each part, the grades in which anything can be had.
    """

    place: int
    reserve: Mapping[str, int]
    findings: tuple[Finding, ...]
    found: Mapping[str, tuple[int, ...]]


def columns_of(
    place: int, wanting: Wanting, steps: Sequence[float], found: Mapping[str, Sequence[int]], most: int
) -> tuple[list[Column], list[OpenWays]]:
    """
    The ways to serve one object, and those that were left open.

    Args:
        place: Of the object.
        wanting: The object.
        steps: Chances of the grades.
        found: For each part, the grades in which anything can be had, the best first.
        most: Ways beyond which they are left open.
    """
    columns: list[Column] = []
    open_ways: list[OpenWays] = []
    least = number("allocation", "least_chance")
    for reserve, findings in _reserves(wanting):
        if any(not found.get(part) for part in reserve):
            continue
        if _count(reserve, found) <= most:
            choices = _every(reserve, found)
        else:
            choices = _alike(reserve, found)
            open_ways.append(OpenWays(place, reserve, findings, {part: tuple(found[part]) for part in reserve}))
        some = [column(place, pieces, findings, steps) for pieces in choices]
        columns += [one for one in some if one.chance >= least]
    return columns, open_ways


def count_ways(wanting: Wanting, found: Mapping[str, Sequence[int]]) -> int:
    """How many ways there are to serve one object."""
    reserves = (reserve for reserve, _ in _reserves(wanting))
    return sum(_count(one, found) for one in reserves if all(found.get(part) for part in one))


def _count(reserve: Bundle, found: Mapping[str, Sequence[int]]) -> int:
    return prod(comb(n + len(found[part]) - 1, n) for part, n in reserve.items())


def _reserves(wanting: Wanting) -> Iterator[tuple[dict[str, int], tuple[Finding, ...]]]:
    """Every different set of pieces that provides for some findings, with all findings that it provides for."""
    told = sorted(wanting.findings, key=lambda one: (-one.chance, one.words, sorted(one.needs.items())))
    told = [one for one in told if one.chance > 0][: int(number("allocation", "most_scenarios"))]
    seen: set[tuple[tuple[str, int], ...]] = set()
    for size in range(1, len(told) + 1):
        for chosen in combinations(told, size):
            reserve = _largest(chosen)
            key = tuple(sorted(reserve.items()))
            if key not in seen:
                seen.add(key)
                yield reserve, tuple(one for one in told if _within(one.needs, reserve))


def _largest(findings: Sequence[Finding]) -> dict[str, int]:
    parts = sorted({part for one in findings for part, n in one.needs.items() if n > 0})
    return {part: max(one.needs.get(part, 0) for one in findings) for part in parts}


def _within(needs: Bundle, reserve: Bundle) -> bool:
    return all(n <= reserve.get(part, 0) for part, n in needs.items())


def _every(reserve: Bundle, found: Mapping[str, Sequence[int]]) -> Iterator[dict[str, Grades]]:
    kinds = [list(combinations_with_replacement(found[part], n)) for part, n in reserve.items()]
    for chosen in product(*kinds):
        yield dict(zip(reserve, chosen, strict=True))


def _alike(reserve: Bundle, found: Mapping[str, Sequence[int]]) -> Iterator[dict[str, Grades]]:
    """Every piece of one grade, or of the next one that can be had above it, else the best below."""
    for step in sorted({at for part in reserve for at in found[part]}):
        chosen = {part: max((at for at in found[part] if at <= step), default=found[part][0]) for part in reserve}
        yield {part: (at,) * reserve[part] for part, at in chosen.items()}


def column(place: int, pieces: dict[str, Grades], findings: Sequence[Finding], steps: Sequence[float]) -> Column:
    """One way, from the grades of its pieces."""
    use: dict[tuple[str, int], int] = {}
    for part, grades in pieces.items():
        for at in grades:
            use[part, at] = use.get((part, at), 0) + 1
    chance = sum(
        one.chance * prod(steps[at] for part, n in one.needs.items() for at in pieces.get(part, ())[:n])
        for one in findings
    )
    return Column(place, use, chance, pieces)
