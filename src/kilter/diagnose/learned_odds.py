"""
Learned odds: how failure counts move the handbook's odds of a kind, by age and by failure mode.

How often parts of a kind have failed has a beta distribution whose mean, before any count, is the handbook's; each part
looked at adds to it (beta-binomial; its mean is that of the gamma-Poisson pair with the same weight). Counts of other
ages come before those of the own age, with a weight that has a limit. The modes of a failure have a Dirichlet
distribution about the handbook's shares. Another collection's counts are multiplied by its weight.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kilter.circuit.board import Board
from kilter.diagnose.learned_odds_counts import NO_AGE, UNKNOWN, Count, band_of, family_of, family_shares
from kilter.measure.beta import beta_quantile
from kilter.measure.tables import table
from kilter.parts.kinds import modes_of, part_kind
from kilter.simulate.prediction import Fault


@dataclass(frozen=True, slots=True)
class Weighted:
    """
    A count with the weight of whoever counted.

    Args:
        count: What was counted.
        weight: 1 for the own collection, less for others.
        source: Who counted: '' for the own collection.
    """

    count: Count
    weight: float = 1.0
    source: str = ""


@dataclass(frozen=True)
class KindOdds:
    """
    What is known about parts of one kind and one age.

    Args:
        kind: Key of the kind.
        handbook: Chance that one is faulty, before any count.
        odds: The same after the counts.
        low, high: Interval of it; its width is in the learning data.
        parts, failures: What was counted, all ages, weighted.
        modes: Share of each family of modes, after the counts.
        handbook_modes: The same before.
        shape: The two parameters of the beta distribution of the odds.
    """

    kind: str
    handbook: float
    odds: float
    low: float
    high: float
    parts: float
    failures: float
    modes: Mapping[str, float]
    handbook_modes: Mapping[str, float]
    shape: tuple[float, float]

    @property
    def factor(self) -> float:
        """What the counts multiply the handbook's odds by."""
        return self.odds / self.handbook


def learned(kind: str, counts: Sequence[Weighted], band: str = NO_AGE) -> KindOdds:
    """
    Odds of one kind at one age.

    Args:
        kind: Key of the kind.
        counts: Of any kinds and ages.
        band: Age band; '' where the age is not known, for which all counts are alike.

    >>> learned("resistor", []).factor
    1.0
    """
    own = [one for one in counts if one.count.kind == kind]
    handbook = part_kind(kind).odds
    here = [one for one in own if band != NO_AGE and one.count.band == band]
    failed, parts = _sums([one for one in own if band == NO_AGE or one.count.band != band])
    hits = number("prior_failures") + failed
    whole = number("prior_failures") / handbook + parts
    if band != NO_AGE:
        carried = 1.0 / (1.0 / hits + 1.0 / number("age_failures"))
        failed, parts = _sums(here)
        hits, whole = carried + failed, whole * carried / hits + parts
    tail = (1.0 - number("interval")) / 2.0
    misses = max(whole - hits, 1e-9)
    low, high = (beta_quantile(share, hits, misses) for share in (tail, 1.0 - tail))
    shares = family_shares(part_kind(kind))
    failed, parts = _sums(own)
    modes = _modes(shares, own)
    return KindOdds(kind, handbook, hits / whole, low, high, parts, failed, modes, shares, (hits, misses))


def learned_odds(board: Board, counts: Sequence[Weighted], years: float | None = None) -> dict[Fault, float]:
    """
    Chance of every fault of a board before any reading, moved by counts.

    Args:
        board: Whose parts.
        counts: Of any kinds and ages.
        years: Age of the object; None where it is not known.

    Raises:
        BadInput: An age that cannot be.
    """
    band = band_of(years)
    kinds = {kind: learned(kind, counts, band) for kind in sorted({part.kind for part in board.parts.values()})}
    found: dict[Fault, float] = {}
    for ref, part in board.parts.items():
        about = kinds[part.kind]
        raw = {}
        for mode in modes_of(part):
            family = family_of(part, mode.key)
            before = about.handbook_modes.get(family, 0.0)
            raw[mode.key] = mode.odds * (about.modes[family] / before if before else 1.0)
        whole, odds = sum(raw.values()), about.factor * sum(mode.odds for mode in modes_of(part))
        found.update({(ref, key): share / whole * odds for key, share in raw.items() if whole})
    return found


def changed_by(kind: str, counts: Sequence[Weighted], band: str = NO_AGE) -> dict[str, float]:
    """
    Who changed the odds of a kind: for each source, the factor by which they would differ without it.

    A factor above 1 says that this source makes failures of the kind likelier. Sources that change nothing
    are left out.
    """
    whole = learned(kind, counts, band).odds
    found = {}
    for source in sorted({one.source for one in counts}):
        without = learned(kind, [one for one in counts if one.source != source], band).odds
        if without != whole:
            found[source] = whole / without
    return found


def number(key: str) -> float:
    """A number of data/learning/odds.toml."""
    return float(table("learning/odds")[key]["value"])


def _sums(counts: Sequence[Weighted]) -> tuple[float, float]:
    """Failures and parts, weighted."""
    failed = sum(one.weight * one.count.failed for one in counts)
    return failed, sum(one.weight * one.count.parts for one in counts)


def _modes(shares: Mapping[str, float], counts: Sequence[Weighted]) -> dict[str, float]:
    strength = number("prior_modes")
    found = {family: strength * share for family, share in shares.items()}
    for one in counts:
        for family, count in one.count.failures.items():
            if family != UNKNOWN:
                found[family] += one.weight * count
    whole = sum(found.values())
    return {family: value / whole for family, value in found.items()}
