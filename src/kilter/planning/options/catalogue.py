"""The cures that the data file knows for a part, with their chances for the modes that the part may have failed in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from fnmatch import fnmatchcase
from typing import Any

from kilter.diagnose.settings import settings
from kilter.measure.tables import table
from kilter.planning.numbers import number, numbers
from kilter.planning.options.cure import Cure
from kilter.planning.options.piece import Spare
from kilter.records.part import Part


def assumed_spares() -> tuple[Spare, ...]:
    """Pieces as they may be had where nothing is known of the stock."""
    return tuple(Spare(kind, float(good)) for kind, good in numbers("repair_options", "assumed_good").items())


def cures_of(part: Part, modes: Iterable[str], spares: Sequence[Spare]) -> tuple[Cure, ...]:
    """
    Every cure of the data file that may help.

    Args:
        part: With its kind and how it stands.
        modes: Failure modes that it may have.
        spares: Pieces that could be put in its place; none means that nothing can be replaced.

    >>> part = Part("J1", "connector", {"1": "a"})
    >>> [cure.key for cure in cures_of(part, ["open 1"], ())]
    ['clean', 'resolder', 'wire']
    """
    modes, found = tuple(modes), []
    standing = "socketed" if part.socketed else "original" if part.original else "later"
    for row in table("planning/repair_options")["options"]:
        if not _applies(row, part):
            continue
        removes = {(part.ref, mode): chance for mode in modes if (chance := success(row["success"], mode)) > 0}
        if removes and row["piece"]:
            found += [_with_piece(row, part, standing, removes, spare) for spare in spares]
        elif removes:
            found.append(_cure(row, part, standing, removes))
    return tuple(found)


def success(odds: Mapping[str, float], mode: str) -> float:
    """
    Chance that a cure removes a fault in this mode.

    >>> success({"contact": 0.6, "*": 0.1}, "open 3"), success({"open": 0.2}, "open"), success({"open": 0.2}, "open 3")
    (0.6, 0.2, 0.0)
    """
    if mode in odds:
        return float(odds[mode])
    for name, patterns in numbers("repair_options", "classes").items():
        if name in odds and any(fnmatchcase(mode, pattern) for pattern in patterns):
            return float(odds[name])
    return float(odds.get("*", 0.0))


def together(cures: Sequence[Cure]) -> Cure:
    """
    Several cures done in one go, such as both parts of a tie replaced.

    Args:
        cures: Of different parts.
    """
    removes = {fault: odds for cure in cures for fault, odds in cure.removes.items()}
    order = ("fully", "partly", "not")
    no_pad = 1.0
    for cure in cures:
        no_pad *= 1.0 - cure.pad
    return Cure(
        key=cures[0].key, parts=tuple(part for cure in cures for part in cure.parts),
        words=f"{cures[0].words}, all of them", removes=removes, minutes=sum(cure.minutes for cure in cures),
        grade=max(cure.grade for cure in cures), undo=max((cure.undo for cure in cures), key=order.index),
        pad=1.0 - no_pad, keeps=sum(cure.keeps for cure in cures), piece=cures[0].piece,
        origin=", ".join(dict.fromkeys(cure.origin for cure in cures if cure.origin)), source=cures[0].source,
    )  # fmt: skip


def _applies(row: Mapping[str, Any], part: Part) -> bool:
    stands = row["standing"] == "any" or (row["standing"] == "socketed") == part.socketed
    return stands and (row["kinds"] == ["*"] or part.kind in row["kinds"])


def _cure(row: Mapping[str, Any], part: Part, standing: str, removes: Mapping[tuple[str, str], float]) -> Cure:
    minutes = row["minutes"] if "minutes" in row else settings("repair_minutes")[standing]
    grade = row["grade"][standing] if "grade" in row else settings("repair_grade")[standing]
    pad = row["pad"][standing] if isinstance(row["pad"], dict) else row["pad"]
    return Cure(
        key=row["key"], parts=(part.ref,), words=row["words"], removes=removes, minutes=float(minutes),
        grade=int(grade), undo=row["undo"], pad=float(pad), keeps=float(row["keeps"]), source=row["source"],
    )  # fmt: skip


def _with_piece(
    row: Mapping[str, Any], part: Part, standing: str, removes: Mapping[tuple[str, str], float], spare: Spare
) -> Cure:
    bare = _cure(row, part, standing, removes)
    chance = number("repair_options", "fitting") * spare.good
    said = {"original": "a spare of the maker's type", "substitute": "a substitute", "donor": "one from a donor"}
    words = f"{bare.words}: {said[spare.kind]}" + (f" ({spare.conditions})" if spare.conditions else "")
    return Cure(
        key=f"{bare.key} {spare.kind}", parts=bare.parts, words=words,
        removes={fault: odds * chance for fault, odds in removes.items()},
        minutes=bare.minutes + float(numbers("repair_options", "piece_minutes")[spare.kind]), grade=bare.grade,
        undo=bare.undo, pad=bare.pad, keeps=bare.keeps + float(numbers("repair_options", "piece_keeps")[spare.kind]),
        piece=spare.kind, origin=spare.origin, source=bare.source,
    )  # fmt: skip
