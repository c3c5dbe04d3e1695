"""`kilter kinds`: the words that board files and readings may use."""

from __future__ import annotations

import argparse
from typing import Any

from kilter.cli.layout import as_json, columns, heading
from kilter.measure.errors import BadInput
from kilter.measure.instruments import instruments
from kilter.measure.quantities import quantities
from kilter.parts.kinds import part_kinds
from kilter.simulate.activity.block_kinds import block_kinds

HELP = "part kinds, block kinds, quantities, instruments"
DESCRIPTION = "Lists what a board file and a readings file may name, with what stands behind each word."
TOPICS = ("parts", "blocks", "quantities", "instruments")


def options(parser: argparse.ArgumentParser) -> None:
    """What the command takes."""
    parser.add_argument(
        "topic", metavar="TOPIC", nargs="?", default="", help=f"one of {', '.join(TOPICS)}; all if none"
    )
    parser.add_argument("--json", action="store_true", help="print plain data instead of text")


def run(chosen: argparse.Namespace) -> int:
    """Lists."""
    if chosen.topic and chosen.topic not in TOPICS:
        raise BadInput(
            "Cannot list kinds", f"the topic '{chosen.topic}'", ", ".join(TOPICS), "Use one, or none for all."
        )
    wanted = {topic: rows for topic, rows in _tables().items() if chosen.topic in ("", topic)}
    if chosen.json:
        print(as_json(wanted))
        return 0
    for topic, rows in wanted.items():
        print(heading(topic))
        print(columns([tuple(rows[0]), *(tuple(_cell(value) for value in row.values()) for row in rows)]))
    return 0


def _tables() -> dict[str, list[dict[str, Any]]]:
    return {
        "parts": [
            {"kind": one.key, "odds": one.odds, "tolerance": one.tolerance, "words": one.words,
             "modes": [mode.key for mode in one.modes]}
            for one in part_kinds().values()
        ],
        "blocks": [
            {"kind": one.key, "inputs": list(one.inputs), "outputs": list(one.outputs), "numbers": list(one.numbers),
             "words": one.words}
            for one in block_kinds().values()
        ],
        "quantities": [
            {"quantity": one.key, "unit": one.unit, "instrument": one.default_instrument, "minutes": one.minutes,
             "grade": one.grade, "words": one.words, "values": list(one.categories)}
            for one in quantities().values()
        ],
        "instruments": [
            {"instrument": one.key, "words": one.words, "reads": [*one.reads, *one.sees]}
            for one in instruments().values()
        ],
    }  # fmt: skip


def _cell(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(value)
    return f"{value:g}" if isinstance(value, float) else str(value)
