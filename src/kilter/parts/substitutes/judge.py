"""Judge whether one part can stand in for another: every rule of the kind, and the worst of what they say."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from kilter.parts.substitutes.capacitors import capacitor_findings
from kilter.parts.substitutes.crystals import crystal_findings
from kilter.parts.substitutes.field_rules import field_findings
from kilter.parts.substitutes.finding import NOT, UNKNOWN, VERDICTS, Finding, verdict_of
from kilter.parts.substitutes.gates import gate_findings
from kilter.parts.substitutes.memories import memory_findings, with_type
from kilter.parts.substitutes.part_data import PartData
from kilter.parts.substitutes.regulators import regulator_findings, resistor_findings

CAPACITORS = ("electrolytic", "tantalum", "ceramic", "film", "suppression")
More = Callable[[PartData, PartData], Iterator[Finding]]
MORE: Mapping[str, More] = {
    **dict.fromkeys(CAPACITORS, capacitor_findings),
    "crystal": crystal_findings,
    "logic": gate_findings,
    "memory": memory_findings,
    "regulator": regulator_findings,
    "resistor": resistor_findings,
}


@dataclass(frozen=True)
class Comparison:
    """Everything that the rules say of a pair, the worst first."""

    wanted: PartData
    offered: PartData
    findings: tuple[Finding, ...]

    @property
    def verdict(self) -> str:
        """One of VERDICTS."""
        return verdict_of(self.findings)

    @property
    def missing(self) -> tuple[str, ...]:
        """Fields that have to be known first."""
        return tuple(dict.fromkeys(one.missing for one in self.findings if one.verdict == UNKNOWN and one.missing))

    @property
    def failing(self) -> tuple[str, ...]:
        """Rules that speak against it."""
        return tuple(one.rule for one in self.findings if one.verdict == NOT)


def judge(wanted: PartData, offered: PartData) -> Comparison:
    """
    Whether the offered part can stand in for the wanted one.

    A field that a rule asks for and that was not said makes the rule's finding 'unknown'; only a field of the wanted
    part that was said to be of no matter ('any') is passed over.

    >>> judge(PartData("fuse", {"current": 1.0}), PartData("fuse", {"current": 2.0})).verdict
    'does not fit'
    >>> judge(PartData("fuse", {"current": 1.0}), PartData("fuse", {"current": 1.0})).verdict
    'unknown'
    """
    findings: list[Finding] = []
    if wanted.rules != offered.rules and not {wanted.rules, offered.rules} <= set(CAPACITORS):
        told = f"wanted '{wanted.kind}', offered '{offered.kind}'"
        findings.append(Finding("kind", NOT, told, "no rule lets the one stand in for the other"))
    else:
        if wanted.rules == "memory":
            wanted, offered = with_type(wanted), with_type(offered)
        findings += field_findings(wanted, offered)
        more = MORE.get(wanted.rules)
        findings += more(wanted, offered) if more else ()
    return Comparison(wanted, offered, tuple(sorted(findings, key=lambda one: -VERDICTS.index(one.verdict))))
