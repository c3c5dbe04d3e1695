"""Judge whether a part can stand in for another, with cautions and as plain data."""

from __future__ import annotations

from typing import Any

from kilter.parts.substitutes import Comparison, PartData, judge

CAUTIONS = (
    "The verdict rests on what was typed in; it does not say that the part is good, genuine or safe to use.",
    "Take values from the maker's sheet of the part in hand, and the original's from the manual where there is one.",
    "Keep the original part with its place, date and name on it, and record the substitute.",
)
AT_THE_MAINS = "Parts at the mains and in picture-tube circuits are for licensed practice under local codes."


def judge_substitute(wanted: PartData, offered: PartData) -> Comparison:
    """What every rule says, the worst first."""
    return judge(wanted, offered)


def cautions_for(found: Comparison) -> tuple[str, ...]:
    """Cautions that belong to the pair."""
    mains = found.wanted.kind in ("suppression", "fuse") or found.wanted.fields.get("use") in (
        "mains suppression", "deflection")  # fmt: skip
    return (AT_THE_MAINS, *CAUTIONS) if mains else CAUTIONS


def plain_comparison(found: Comparison) -> dict[str, Any]:
    """As plain data."""
    return {
        "verdict": found.verdict,
        "failing": list(found.failing),
        "missing": list(found.missing),
        "findings": [
            {"rule": one.rule, "verdict": one.verdict, "words": one.words, "why": one.why, "missing": one.missing}
            for one in found.findings
        ],
        "wanted": {"kind": found.wanted.kind, **found.wanted.fields},
        "offered": {"kind": found.offered.kind, **found.offered.fields},
        "cautions": list(cautions_for(found)),
    }
