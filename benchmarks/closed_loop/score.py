"""What the outcomes come to: shares with their 95 % intervals, tests, costs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import sqrt

import numpy as np
from loop import Outcome

Z = 1.959963984540054
"""Standard normal quantile of a two-sided 95 % interval."""
SMALL_TIE = 3
"""Parts in a tie that a person would still call an answer."""

HEADINGS = ("way", "first", "95 % interval", "alone", "small tie", "all found", "tests", "median", "minutes", "cost",
            "sure, wrong")  # fmt: skip
WIDTHS = (21, 6, 14, 6, 10, 10, 6, 7, 8, 7, 12)


def report(outcomes: Sequence[Outcome], ways: Sequence[str]) -> str:
    """One table over all boards, one by board for the advice, and the advice's costs as a share of the others'."""
    lines = [_row(HEADINGS), *(_line(way, [one for one in outcomes if one.way == way]) for way in ways)]
    lines += ["", *_by_board(outcomes), "", *_ratios(outcomes, ways), "", *_endings(outcomes)]
    return "\n".join(lines)


def wilson(hits: int, of: int) -> tuple[float, float]:
    """
    95 % interval of a share by Wilson's score method (E. B. Wilson, 1927; formula from memory).

    >>> [round(end, 3) for end in wilson(8, 10)]
    [0.49, 0.943]
    """
    if not of:
        return 0.0, 1.0
    share, z2 = hits / of, Z * Z
    middle = (share + z2 / (2 * of)) / (1 + z2 / of)
    half = Z / (1 + z2 / of) * sqrt(share * (1 - share) / of + z2 / (4 * of * of))
    return middle - half, middle + half


def _row(cells: Sequence[str]) -> str:
    return "".join(f"{cell:<{width}}" if not n else f"{cell:>{width}}" for n, (cell, width) in
                   enumerate(zip(cells, WIDTHS, strict=True)))  # fmt: skip


def _line(way: str, mine: Sequence[Outcome]) -> str:
    if not mine:
        return f"{way}: nothing"
    right = sum(one.right for one in mine)
    low, high = wilson(right, len(mine))
    cells = [
        way,
        _share(mine, lambda o: o.right),
        f"{low:.0%} to {high:.0%}",
        _share(mine, lambda o: o.right and not o.tied),
    ]
    cells += [_share(mine, lambda o: o.right and len(o.ranking[0]) <= SMALL_TIE), _share(mine, lambda o: o.all_found)]
    cells += [f"{_mean(mine, lambda o: o.tests):.1f}", f"{np.median([one.tests for one in mine]):.0f}"]
    cells += [f"{_mean(mine, lambda o: o.minutes):.1f}", f"{_mean(mine, lambda o: o.cost):.1f}"]
    return _row([*cells, f"{sum(o.confident_and_wrong for o in mine)} of {len(mine)}"])


def _by_board(outcomes: Sequence[Outcome]) -> list[str]:
    found = ["advice, by board    first     tests"]
    for board in dict.fromkeys(one.board for one in outcomes):
        mine = [one for one in outcomes if one.board == board and one.way == "advice"]
        if mine:
            right = f"{sum(o.right for o in mine)} of {len(mine)}"
            found.append(f"{board:16s} {right:>8s} {_mean(mine, lambda o: o.tests):9.1f}")
    return found


def _ratios(outcomes: Sequence[Outcome], ways: Sequence[str]) -> list[str]:
    """Cost and tests of the advice as a share of the others', over all objects and over those that both got right."""
    by_way = {way: {(o.board, o.number): o for o in outcomes if o.way == way} for way in ways}
    found = []
    for way in ways if "advice" in by_way else ():
        pairs = [(by_way["advice"][key], other) for key, other in by_way[way].items()]
        both = [(ours, theirs) for ours, theirs in pairs if ours.right and theirs.right]
        for words, some in (("all objects", pairs), ("both right", both)):
            if way != "advice" and some:
                shares = ", ".join(f"{what} {_ratio(some, what):.2f}" for what in ("cost", "minutes", "tests"))
                found.append(f"advice as a share of {way} ({words}, {len(some)}): {shares}")
    return found


def _ratio(pairs: Sequence[tuple[Outcome, Outcome]], what: str) -> float:
    ours, theirs = (sum(getattr(one, what) for one in some) for some in zip(*pairs, strict=True))
    return float(ours / theirs) if theirs else float("nan")


def _endings(outcomes: Sequence[Outcome]) -> list[str]:
    mine = [one for one in outcomes if one.way == "advice"]
    kinds = {kind: sum(o.action == kind for o in mine) for kind in ("act", "leave", "cap")}
    gross = sum(o.gross for o in mine)
    words = ", ".join(f"{kind} {count}" for kind, count in kinds.items())
    return [f"advice ended with {words}; {gross} grossly wrong readings among those taken"] if mine else []


def _share(outcomes: Sequence[Outcome], what: Callable[[Outcome], bool]) -> str:
    return f"{np.mean([what(one) for one in outcomes]):.0%}"


def _mean(outcomes: Sequence[Outcome], what: Callable[[Outcome], float]) -> float:
    return float(np.mean([what(one) for one in outcomes]))
