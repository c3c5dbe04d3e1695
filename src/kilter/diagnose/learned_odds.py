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
        shape: The two parameters of the beta distribution of that chance after the counts.
        parts, failures: What was counted, all ages, weighted.
        modes: Share of each family of modes, after the counts.
        handbook_modes: The same before.
    """

    kind: str
    handbook: float
    shape: tuple[float, float]
    parts: float
    failures: float
    modes: Mapping[str, float]
    handbook_modes: Mapping[str, float]

    @property
    def odds(self) -> float:
        """Chance that one is faulty, after the counts."""
        return _mean(self.shape)

    @property
    def low(self) -> float:
        """Lower end of the interval of that chance; its width is in the learning data."""
        return beta_quantile((1.0 - number("interval")) / 2.0, *self.shape)

    @property
    def high(self) -> float:
        """Upper end of it."""
        return beta_quantile((1.0 + number("interval")) / 2.0, *self.shape)

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
    tally, shares = _tally(own, band), family_shares(part_kind(kind))
    parts, failed = tally.here_parts + tally.else_parts, tally.here_failed + tally.else_failed
    return KindOdds(kind, part_kind(kind).odds, _shape(kind, tally, band), parts, failed, _modes(shares, own), shares)


def by_kind(counts: Sequence[Weighted]) -> dict[str, list[Weighted]]:
    """Counts sorted by kind once, so that not every kind has to look through all of them."""
    found: dict[str, list[Weighted]] = {}
    for one in counts:
        found.setdefault(one.count.kind, []).append(one)
    return found


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
    band, own = band_of(years), by_kind(counts)
    wanted = sorted({part.kind for part in board.parts.values()})
    kinds = {kind: learned(kind, own.get(kind, ()), band) for kind in wanted}
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
    own: dict[str, list[Weighted]] = {}
    for one in counts:
        if one.count.kind == kind:
            own.setdefault(one.source, []).append(one)
    tallies = {source: _tally(rows, band) for source, rows in sorted(own.items())}
    every = sum(tallies.values(), start=Tally())
    whole, found = _mean(_shape(kind, every, band)), {}
    for source, tally in tallies.items():
        without = _mean(_shape(kind, every - tally, band))
        if without != whole:
            found[source] = whole / without
    return found


def number(key: str) -> float:
    """A number of data/learning/odds.toml."""
    return float(table("learning/odds")[key]["value"])


@dataclass(frozen=True, slots=True)
class Tally:
    """Weighted counts of one kind: of the age that is asked about, and of all others."""

    here_failed: float = 0.0
    here_parts: float = 0.0
    else_failed: float = 0.0
    else_parts: float = 0.0

    def __add__(self, other: Tally) -> Tally:
        return self._with(other, 1.0)

    def __sub__(self, other: Tally) -> Tally:
        """Without some of them; never below nothing, where rounding would have it so."""
        return self._with(other, -1.0)

    def _with(self, other: Tally, sign: float) -> Tally:
        return Tally(
            max(self.here_failed + sign * other.here_failed, 0.0),
            max(self.here_parts + sign * other.here_parts, 0.0),
            max(self.else_failed + sign * other.else_failed, 0.0),
            max(self.else_parts + sign * other.else_parts, 0.0),
        )


def _tally(counts: Sequence[Weighted], band: str) -> Tally:
    here = [one for one in counts if band != NO_AGE and one.count.band == band]
    others = [one for one in counts if band == NO_AGE or one.count.band != band]
    return Tally(*_sums(here), *_sums(others))


def _shape(kind: str, tally: Tally, band: str) -> tuple[float, float]:
    """Parameters of the beta distribution: failures and non-failures, the prior's included."""
    hits = number("prior_failures") + tally.else_failed
    whole = number("prior_failures") / part_kind(kind).odds + tally.else_parts
    if band != NO_AGE:
        carried = 1.0 / (1.0 / hits + 1.0 / number("age_failures"))
        hits, whole = carried + tally.here_failed, whole * carried / hits + tally.here_parts
    return hits, max(whole - hits, 1e-9)


def _mean(shape: tuple[float, float]) -> float:
    return shape[0] / (shape[0] + shape[1])


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
