"""Proposals, work and removed parts of a dossier as tables of a report."""

from __future__ import annotations

from kilter.exporters.report_words import at
from kilter.records.dossier import Dossier
from kilter.records.dossier_work import Approval, Proposal

Table = tuple[tuple[str, ...], list[tuple[str, ...]]]


def proposals(dossier: Dossier) -> Table:
    """Every version with the answers to it."""
    heads = ("no., version", "grade", "what", "why", "what else", "undoing it", "proposed", "answers", "end")
    rows: list[tuple[str, ...]] = [
        (f"{one.number}, {one.version}", str(one.grade), _act(one), one.reason, one.alternatives or "not said",
         one.undo or "not said", f"{at(one.at)} {dossier.shown(one.who)}".strip(),
         "; ".join(_answer(dossier, reply) for reply in one.approvals) or "none", one.end or "open")
        for one in dossier.proposals
    ]  # fmt: skip
    return heads, rows


def repairs(dossier: Dossier) -> Table:
    """What was done, with intervention grade: 0 look to 6 irreversible."""
    heads = ("when", "who", "grade (0 to 6)", "part", "act", "what was done", "fitted", "agreed under")
    rows: list[tuple[str, ...]] = []
    for one in dossier.repairs:
        words = [one.words, "to make it safe" if one.making_safe else "",
                 "" if one.standing else "replaced by a later entry"]  # fmt: skip
        rows.append((at(one.at), dossier.shown(one.who), "not said" if one.grade is None else str(one.grade), one.part,
                     one.act, "; ".join(word for word in words if word), one.fitted or "nothing recorded",
                     one.proposal or "no proposal"))  # fmt: skip
    return heads, rows


def removed_parts(dossier: Dossier) -> Table:
    """Every removed part with its number and where it is."""
    heads = ("number", "part", "as read", "original", "what became of it", "where", "since", "why")
    rows: list[tuple[str, ...]] = [
        (one.number, one.part, one.words, {True: "yes", False: "no", None: "nobody can tell"}[one.original],
         one.disposition or "not said", one.place or "not said", at(one.at), one.why)
        for one in dossier.removed_parts
    ]  # fmt: skip
    return heads, rows


def _act(one: Proposal) -> str:
    head = " ".join(word for word in (one.act, one.part) if word)
    return f"{head}: {one.words}" if one.words else head


def _answer(dossier: Dossier, one: Approval) -> str:
    who = f"{dossier.shown(one.who)} for the {one.capacity}" if one.capacity else dossier.shown(one.who)
    rest = ", ".join(word for word in (at(one.at), one.words) if word)
    return f"{one.decision} of {who}" + (f" ({rest})" if rest else "")
