"""
The plan as a mixed-integer programme.

Unknowns: z, one for each way to serve an object (0 or 1); d, one for each donor that may be broken (0 or 1); b, pieces
bought of each offer (whole); f, pieces that go from a part and grade to a part and grade wanted. Once z, d and b are
whole, the best f are too, because they form a transport problem; so f need not be told to be whole.

Rows, in this order: one for each object and donor (made to work at most one way, or broken), one for each part and
grade wanted (what is set aside comes from somewhere), one for each part and grade there is, one for each part of which
something is kept. Everything is sorted, so that the order of the files does not matter.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kilter.planning.allocation.columns import Column, OpenWays, columns_of, count_ways
from kilter.planning.allocation.grades import grade, grades_of
from kilter.planning.allocation.problem import Donor, Lot, Offer, Problem, Wanting
from kilter.planning.allocation.relaxed import Relaxed
from kilter.planning.allocation.solver import sparse
from kilter.planning.numbers import number, numbers

Class = tuple[str, int]
"""A part and a grade."""
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Flow:
    """Pieces of one part and grade that serve a want of one part and grade or better."""

    source: Class
    want: Class
    loss: float


@dataclass(frozen=True)
class Model:
    """
    A problem in the form that a solver takes: most of gain @ x with rows @ x <= limit, 0 <= x <= most.

    Args:
        objects: Sorted by number.
        donors: Those that may be broken, sorted by number.
        columns: Ways to serve the objects.
        offers: Sorted by key.
        flows: Possible ways of the pieces.
        steps: Chances of the grades.
        gain: Worth of one of each unknown: z, d, b, f. Shape (V,).
        rows: Sparse, shape (R, V).
        limit: Shape (R,).
        most: Largest value of each unknown, shape (V,).
        whole: 1 where an unknown is whole, shape (V,).
        supply: First row and classes of what there is.
        wants: Parts and grades wanted; their rows follow those of the objects.
        open_ways: Ways that are too many to be columns each.
        relaxed: The programme without whole numbers, where it was solved already.
        beyond: No plan is worth more than this, whatever way of the open ones it uses; None where there are none, or
            where that was not worked out.
    """

    objects: tuple[Wanting, ...]
    donors: tuple[Donor, ...]
    columns: tuple[Column, ...]
    offers: tuple[Offer, ...]
    flows: tuple[Flow, ...]
    steps: tuple[float, ...]
    gain: Floats
    rows: Any
    limit: Floats
    most: Floats
    whole: Floats
    supply: tuple[int, tuple[Class, ...]]
    wants: tuple[Class, ...]
    open_ways: tuple[OpenWays, ...]
    relaxed: Relaxed | None = None
    beyond: float | None = None

    @property
    def exact(self) -> bool:
        """Whether the bound of a plan counts every way to serve every object."""
        return not self.open_ways or self.beyond is not None

    @property
    def starts(self) -> tuple[int, int, int]:
        """Where d, b and f begin among the unknowns."""
        d = len(self.columns)
        return d, d + len(self.donors), d + len(self.donors) + len(self.offers)


@dataclass
class _Entries:
    """Rows while they are filled."""

    row: list[int] = field(default_factory=list)
    column: list[int] = field(default_factory=list)
    value: list[float] = field(default_factory=list)

    def add(self, row: int, column: int, value: float) -> None:
        self.row.append(row)
        self.column.append(column)
        self.value.append(value)


def build(problem: Problem, *, one_more: bool = False, more: Sequence[Column] = ()) -> Model:
    """
    The programme of a problem.

    Args:
        problem: To be solved.
        one_more: Also look at ways that use one more good piece of each part that is wanted, so that its price shows
            even where there is none.
        more: Further ways, out of the open ones.
    """
    steps = grades_of(problem)
    objects = tuple(sorted(problem.objects, key=lambda one: one.number))
    donors = tuple(sorted((one for one in problem.donors if one.permission.may), key=lambda one: one.number))
    offers = tuple(one for one in sorted(problem.offers, key=lambda o: o.key) if grade(one.good, steps) is not None)
    wanted = sorted({part for one in objects for finding in one.findings for part in finding.needs})
    stock = _classed(problem.lots, steps)
    classes = set(stock) | {_at(one.part, one.good, steps) for one in offers}
    classes |= {at for donor in donors for at in _classed(donor.lots, steps)}
    if one_more:
        classes |= {(part, 0) for part in wanted}
    ordered = tuple(sorted(classes))
    serves = _serves(problem, ordered, steps)
    found: dict[str, list[int]] = {part: [] for part in wanted}
    for part, _, at, _ in serves:
        if part in found and at not in found[part]:
            found[part].append(at)
    found = {part: sorted(grades) for part, grades in found.items()}
    columns, open_ways = _columns(objects, steps, found, more)
    used = {want for one in columns for want in one.use}
    used |= {(part, at) for one in open_ways for part, grades in one.found.items() for at in grades}
    wants = tuple(sorted(used))
    flows = _flows(serves, wants)
    sizes = (len(columns), len(donors), len(offers), len(flows))
    entries, limit, first = _rows(problem, objects, donors, columns, offers, flows, wants, ordered, stock, steps)
    return Model(
        objects, donors, columns, offers, flows, steps,
        gain=_gain(objects, donors, columns, offers, flows),
        rows=sparse().csr_array((entries.value, (entries.row, entries.column)), shape=(len(limit), sum(sizes))),
        limit=np.array(limit),
        most=np.concatenate([np.ones(sizes[0] + sizes[1]), [one.most for one in offers], np.full(sizes[3], np.inf)]),
        whole=np.concatenate([np.ones(sum(sizes[:3])), np.zeros(sizes[3])]),
        supply=(first, ordered),
        wants=wants,
        open_ways=open_ways,
    )  # fmt: skip


def _columns(
    objects: tuple[Wanting, ...], steps: tuple[float, ...], found: Mapping[str, list[int]], more: Sequence[Column]
) -> tuple[tuple[Column, ...], tuple[OpenWays, ...]]:
    columns: list[Column] = []
    left: list[OpenWays] = []
    in_all = int(number("allocation", "columns_in_all"))
    all_of_them = sum(count_ways(one, found) for one in objects) <= in_all
    most = in_all if all_of_them else int(max(number("allocation", "most_columns"), in_all // len(objects)))
    for place, one in enumerate(objects):
        some, open_ways = columns_of(place, one, steps, found, most)
        columns += some
        left += open_ways
    return (*columns, *more), tuple(left)


def _at(part: str, good: float, steps: tuple[float, ...]) -> Class:
    at = grade(good, steps)
    assert at is not None
    return part, at


def _classed(lots: Iterable[Lot], steps: tuple[float, ...]) -> dict[Class, int]:
    held: dict[Class, int] = {}
    for lot in lots:
        at = grade(lot.good, steps)
        if at is not None and lot.count > 0:
            held[lot.part, at] = held.get((lot.part, at), 0) + lot.count
    return held


def _serves(
    problem: Problem, classes: Iterable[Class], steps: tuple[float, ...]
) -> list[tuple[str, Class, int, float]]:
    """(part wanted, class that serves, grade it then has, worth given up)."""
    factors, losses = numbers("allocation", "substitute_factor"), numbers("allocation", "substitute_loss")
    stands: dict[str, list[tuple[str, float, float]]] = {}
    for one in sorted(set(problem.stand_ins), key=lambda s: (s.part, s.wanted, s.verdict)):
        if one.verdict in factors and one.part != one.wanted:
            stands.setdefault(one.part, []).append((one.wanted, factors[one.verdict], losses[one.verdict]))
    piece = number("allocation", "piece_loss")
    found: list[tuple[str, Class, int, float]] = []
    for part, at in classes:
        found.append((part, (part, at), at, piece))
        for wanted, factor, loss in stands.get(part, ()):
            then = grade(steps[at] * factor, steps)
            if then is not None:
                found.append((wanted, (part, at), then, piece + loss))
    return found


def _flows(serves: list[tuple[str, Class, int, float]], wants: tuple[Class, ...]) -> tuple[Flow, ...]:
    by_part: dict[str, list[int]] = {}
    for part, at in wants:
        by_part.setdefault(part, []).append(at)
    return tuple(
        Flow(source, (part, want), loss)
        for part, source, at, loss in serves
        for want in by_part.get(part, ())
        if want >= at
    )


def _gain(
    objects: tuple[Wanting, ...], donors: tuple[Donor, ...], columns: tuple[Column, ...], offers: tuple[Offer, ...],
    flows: tuple[Flow, ...],
) -> Floats:  # fmt: skip
    return np.array(
        [objects[one.place].worth * one.chance for one in columns]
        + [-one.loss for one in donors] + [-one.cost for one in offers] + [-one.loss for one in flows]
    )  # fmt: skip


def _rows(
    problem: Problem, objects: tuple[Wanting, ...], donors: tuple[Donor, ...], columns: tuple[Column, ...],
    offers: tuple[Offer, ...], flows: tuple[Flow, ...], wants: tuple[Class, ...], classes: tuple[Class, ...],
    stock: Mapping[Class, int], steps: tuple[float, ...],
) -> tuple[_Entries, list[float], int]:  # fmt: skip
    entries, d = _Entries(), len(columns)
    b, f = d + len(donors), d + len(donors) + len(offers)
    places = {one.number: at for at, one in enumerate(objects)}
    want_row = {want: len(objects) + at for at, want in enumerate(wants)}
    first = len(objects) + len(wants)
    have_row = {one: first + at for at, one in enumerate(classes)}
    kept = {part: n for part, n in sorted(problem.keep.items()) if n > 0}
    keep_row = {part: first + len(classes) + at for at, part in enumerate(kept)}
    limit = [1.0] * len(objects) + [0.0] * len(wants) + [float(stock.get(one, 0)) for one in classes]
    limit += [float(max(0, sum(n for (p, _), n in stock.items() if p == part) - n)) for part, n in kept.items()]

    def supplied(at: Class, unknown: int, count: float) -> None:
        entries.add(have_row[at], unknown, -count)
        if at[0] in keep_row:
            entries.add(keep_row[at[0]], unknown, -count)

    for unknown, column in enumerate(columns):
        entries.add(column.place, unknown, 1.0)
        for want, n in column.use.items():
            entries.add(want_row[want], unknown, float(n))
    for unknown, donor in enumerate(donors, d):
        if donor.number in places:
            entries.add(places[donor.number], unknown, 1.0)
        for at, n in sorted(_classed(donor.lots, steps).items()):
            supplied(at, unknown, float(n))
    for unknown, offer in enumerate(offers, b):
        supplied(_at(offer.part, offer.good, steps), unknown, 1.0)
    for unknown, flow in enumerate(flows, f):
        entries.add(want_row[flow.want], unknown, -1.0)
        supplied(flow.source, unknown, -1.0)
    return entries, limit, first
