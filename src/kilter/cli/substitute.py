"""`kilter substitute`: whether one part can stand in for another, rule by rule."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from kilter.cli.layout import as_json, heading, wrapped
from kilter.importers.part_data import OFFERED, WANTED, read_part_data
from kilter.measure.errors import BadInput
from kilter.parts.substitutes import UNKNOWN, VERDICTS, Comparison
from kilter.services.judge_substitute import cautions_for, judge_substitute, plain_comparison

HELP = "whether one part can stand in for another"
DESCRIPTION = (
    "Compares a wanted part with an offered one by the rules of its kind: fits, fits with conditions, does not fit, or "
    "unknown, each with the rule that says so. A field that was not said makes the verdict unknown, never a fit."
)
UNANSWERED = 3


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    add = parser.add_argument
    add("files", metavar="FILE", nargs="*", type=Path, help="the wanted part, then the offered one (TOML)")
    add("--wanted", metavar="FIELD=VALUE", nargs="+", default=[], help="fields of the wanted part, as volts=16")
    add("--offered", metavar="FIELD=VALUE", nargs="+", default=[], help="fields of the offered part")
    add("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Prints the verdict; exit code 3 where it is unknown."""
    wanted_file, offered_file = _files(chosen)
    wanted = read_part_data(wanted_file, chosen.wanted, WANTED)
    offered = read_part_data(offered_file, chosen.offered, OFFERED)
    found = judge_substitute(wanted, offered)
    print(as_json(plain_comparison(found)) if chosen.json else comparison_text(found))
    if found.verdict == UNKNOWN:
        print(f"Unanswered: {', '.join(found.missing) or 'see what is unknown above'}.", file=sys.stderr)
    return UNANSWERED if found.verdict == UNKNOWN else 0


def _files(chosen: argparse.Namespace) -> tuple[Path | None, Path | None]:
    files = list(chosen.files)
    if len(files) == 2:
        return files[0], files[1]
    if len(files) == 1 and bool(chosen.wanted) != bool(chosen.offered):
        return (None, files[0]) if chosen.wanted else (files[0], None)
    if not files and chosen.wanted and chosen.offered:
        return None, None
    raise BadInput("Cannot compare two parts", f"{len(files)} files" if files else "no description of both parts",
                   "WANTED.toml OFFERED.toml, or --wanted FIELD=VALUE ... --offered FIELD=VALUE ...",
                   "Describe both; docs/substitutes.md lists the fields.")  # fmt: skip


def comparison_text(found: Comparison) -> str:
    """The comparison as text."""
    parts = [f"Verdict: {found.verdict}."]
    for level in reversed(VERDICTS):
        those = [one for one in found.findings if one.verdict == level]
        if those:
            parts.append(heading(level))
        for one in those:
            parts.append(wrapped(f"- {one.rule}: {one.words}.", 2, 2))
            if one.why:
                parts.append(wrapped(f"{one.why}.", 4))
    parts.append(heading("cautions"))
    parts += [wrapped(f"- {words}", 2, 2) for words in cautions_for(found)]
    return "\n".join(parts)
