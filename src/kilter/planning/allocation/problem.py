"""What there is to share out: objects that want parts, stock, donors, offers and substitutes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from kilter.planning.accession import Permission

Bundle = Mapping[str, int]
"""How many pieces of each part."""


@dataclass(frozen=True)
class Finding:
    """
    One thing that may be wrong with an object, and what it would take.

    Args:
        chance: That this is what is wrong.
        needs: Parts that would then make it work; empty where no part is needed.
        words: Such as 'U8 dead'.
    """

    chance: float
    needs: Bundle
    words: str = ""


@dataclass(frozen=True)
class Wanting:
    """
    An object that might be made to work.

    Args:
        number: Of the object; unique.
        worth: Of its working, in the collection's own points.
        findings: What may be wrong; their chances add up to at most 1, the rest is what no reserved part cures.
        since: Date from which it waits, as 1998-05-01; '' where nobody wrote it down.
        title: For people.
    """

    number: str
    worth: float
    findings: tuple[Finding, ...]
    since: str = ""
    title: str = ""


@dataclass(frozen=True)
class Lot:
    """
    Equal pieces from one place.

    Args:
        key: Unique among the lots, such as a drawer's number.
        part: The part, as the objects' needs name it.
        count: How many.
        good: Chance that one of them is good.
        words: Where it is and in what condition.
    """

    key: str
    part: str
    count: int
    good: float
    words: str = ""


@dataclass(frozen=True)
class Donor:
    """
    An object that could be taken apart.

    Args:
        number: Of the object. One that also wants parts is made to work or broken, not both.
        lots: What it would give.
        loss: Worth that goes with it.
        permission: Whether it may be taken apart at all.
        words: For people.
    """

    number: str
    lots: tuple[Lot, ...]
    loss: float
    permission: Permission
    words: str = ""


@dataclass(frozen=True)
class Offer:
    """Pieces that could be bought or asked for: the part, how many at most, chance of good, worth one costs."""

    key: str
    part: str
    most: int
    good: float
    cost: float


@dataclass(frozen=True)
class StandIn:
    """One part that may stand in for another, by the verdict of the substitution rules: 'fit' or 'conditions'."""

    wanted: str
    part: str
    verdict: str


@dataclass(frozen=True)
class Problem:
    """
    Everything that a plan depends on.

    Args:
        objects: That want parts.
        lots: On the shelf.
        donors: That could be taken apart.
        offers: That could be bought.
        stand_ins: Substitutes.
        keep: Pieces of a part that stay on the shelf for what will fail next.
        grades: Chances of good to which those of the pieces are rounded down, falling; () takes the setting.
    """

    objects: tuple[Wanting, ...]
    lots: tuple[Lot, ...] = ()
    donors: tuple[Donor, ...] = ()
    offers: tuple[Offer, ...] = ()
    stand_ins: tuple[StandIn, ...] = ()
    keep: Mapping[str, int] = field(default_factory=dict)
    grades: tuple[float, ...] = ()
