"""The plan in words: why a donor is taken apart or stays whole, and why an object has to wait."""

from __future__ import annotations

from dataclasses import dataclass

from kilter.planning.allocation.otherwise import Otherwise, with_donor, with_object, without_donor
from kilter.planning.allocation.plan import Made, Plan
from kilter.planning.allocation.problem import Bundle, Donor, Problem, Wanting
from kilter.planning.numbers import number


@dataclass(frozen=True)
class Explained:
    """
    One sentence or two about a donor or an object, with the plan that it was weighed against.

    Args:
        about: 'broken', 'spared', 'refused' or 'waiting'; an object may be spared as a donor and wait.
        subject: Number of the donor or object.
        words: The sentences.
        otherwise: The plan with the other choice.
    """

    about: str
    subject: str
    words: str
    otherwise: Otherwise | None = None


def explain(problem: Problem, plan: Plan, *, gap: float = 0.0) -> tuple[Explained, ...]:
    """
    Broken donors, spared ones, refused ones, and objects that wait, in this order.

    For the first few of each, where the collection is not large, the plan is worked out once more the other way round;
    for the others only what follows from the plan itself is said.
    """
    few = len(problem.objects) <= number("allocation", "exact_objects")
    most = int(number("allocation", "explained")) if few else 0
    told = [_broken(problem, plan, one, gap, weigh=at < most) for at, one in enumerate(plan.broken)]
    told += [_spared(problem, plan, one, gap, weigh=at < most) for at, one in enumerate(plan.spared)]
    told += [
        Explained("refused", one.number, f"{one.number} is not taken apart. {one.permission.why}")
        for one in plan.refused
    ]
    told += [_waits(problem, plan, one, gap, weigh=at < most) for at, one in enumerate(plan.waiting)]
    return tuple(told)


def _broken(problem: Problem, plan: Plan, donor: Donor, gap: float, *, weigh: bool) -> Explained:
    gives = [(made.wanting.number, _from(made, donor.number)) for made in plan.made]
    given = "; ".join(f"{parts} to {number_}" for number_, parts in gives if parts) or "nothing that is used"
    words = f"{donor.number} is taken apart because it gives {given}."
    other = without_donor(problem, plan, donor.number, gap=gap) if weigh else None
    if other is not None and other.loss is not None:
        words += f" With it whole the best plan is worth {other.loss:.2f} less{_waiting(other.lost)}."
    return Explained("broken", donor.number, f"{words} {donor.permission.why}", other)


def _spared(problem: Problem, plan: Plan, donor: Donor, gap: float, *, weigh: bool) -> Explained:
    other = with_donor(problem, plan, donor.number, gap=gap) if weigh else None
    if other is None or other.loss is None or other.plan is None:
        return Explained("spared", donor.number, f"{donor.number} stays whole.")
    helps = f" It would serve {_list(other.gained)}," if other.gained else " It would serve nothing that is not served,"
    words = f"{donor.number} stays whole.{helps} and what goes with it is worth {donor.loss:.2f}:"
    same = other.loss < 5e-3
    words += " a plan that is no better." if same else f" a plan worth {other.loss:.2f} less."
    return Explained("spared", donor.number, words, other)


def _waits(problem: Problem, plan: Plan, one: Wanting, gap: float, *, weigh: bool) -> Explained:
    wants = " or ".join(_bundle(finding.needs) for finding in one.findings[:3]) or "something that nobody named"
    words = f"{one.number} waits for {wants}."
    other = with_object(problem, plan, one.number, gap=gap) if weigh else None
    if other is None:
        return Explained("waiting", one.number, words)
    if other.loss is None:
        return Explained("waiting", one.number, f"{words} It cannot be served from this stock and these donors.", other)
    breaks = (
        tuple(sorted({d.number for d in other.plan.broken} - {d.number for d in plan.broken})) if other.plan else ()
    )
    words += f" Serving it makes a plan worth {max(0.0, other.loss):.2f} less{_waiting(other.lost)}"
    words += f"; {_list(breaks)} would be taken apart." if breaks else "."
    return Explained("waiting", one.number, words, other)


def _from(made: Made, donor: str) -> str:
    counts: dict[str, int] = {}
    for piece in made.pieces:
        if piece.source == "donor" and piece.origin == donor:
            counts[piece.part] = counts.get(piece.part, 0) + 1
    return _bundle(counts) if counts else ""


def _bundle(needs: Bundle) -> str:
    return _list(tuple(f"{n} × {part}" for part, n in sorted(needs.items()))) if needs else "no part"


def _waiting(lost: tuple[str, ...]) -> str:
    return f": {_list(lost)} would have to wait" if lost else ""


def _list(names: tuple[str, ...]) -> str:
    """
    Names in a row.

    >>> _list(("a",)), _list(("a", "b", "c"))
    ('a', 'a, b and c')
    """
    return f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0]
