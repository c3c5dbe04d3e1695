"""Words of the data files that reach the pages: quantities, instruments, part kinds, modes, checks, hazards."""

from __future__ import annotations

from collections.abc import Iterator

from kilter.measure.tables import table
from kilter.web.templatetags.display import without_command
from messages.message import Message

READING, QUANTITY, UNDO = "reading", "quantity", "undo"
"""Contexts: a word that is read, the key of a quantity, how far a cure can be undone; often other words elsewhere."""


def in_data() -> Iterator[tuple[str, Message]]:
    """Each message with the data file that it stands in."""
    for place, message in _all():
        yield f"src/kilter/data/{place}.toml", message


def _all() -> Iterator[tuple[str, Message]]:
    for key, row in table("quantities").items():
        if "words" in row:
            yield "quantities", Message(row["words"])
            yield "quantities", Message(key, context=QUANTITY)
            yield from (("quantities", Message(one, context=READING)) for one in row.get("categories", ()))
    for row in table("instruments").values():
        if "words" in row:
            yield "instruments", Message(row["words"])
    for row in table("thermal")["surfaces"].values():
        yield from (("thermal", Message(row[key])) for key in ("words", "caution") if key in row)
    yield from (("thermal", Message(key)) for key in table("thermal")["units"])
    for row in table("part_kinds").values():
        yield "part_kinds", Message(row["words"])
        yield from (("part_kinds", Message(mode["words"])) for mode in row.get("modes", ()))
    yield "part_kinds", Message("a pin does not connect")
    yield "power_checks", Message(table("power_checks")["limits"]["words"])
    yield from (("power_checks", Message(row["words"])) for row in table("power_checks")["checks"])
    for row in table("safety/hazards")["hazards"]:
        yield from (("safety/hazards", Message(text)) for text in (row["title"], *row["cautions"]))
    for row in table("records/approvals")["capacities"].values():
        if isinstance(row, list):
            yield from (("records/approvals", Message(one)) for one in row if one != "judgement")
    yield from (("records/grades", Message(row["words"])) for row in table("records/grades")["grades"])
    for row in table("planning/repair_options")["options"]:
        yield "planning/repair_options", Message(row["words"])
        yield "planning/repair_options", Message(row["undo"], context=UNDO)
    yield from (("planning/wear", Message(text)) for text in _wear())
    for row in table("planning/display")["inspection"]:
        yield "planning/display", Message(without_command(row["words"]))
    for state, row in table("planning/accession").items():
        yield "planning/accession", Message(state)
        yield "planning/accession", Message(row["words"])


def _wear() -> Iterator[str]:
    for row in table("planning/wear").values():
        yield row["words"]
        if "look" in row:
            yield row["look"]["words"]
