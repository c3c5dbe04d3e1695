"""What people said of a temperature picture: unit, room, the picture before power, and where parts are on it."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass, replace
from io import BytesIO
from typing import Any

from kilter.measure.errors import BadInput
from kilter.services.place_thermal import Mark
from kilter.store.models import Filing, Person
from kilter.store.models.attachment import PLACES
from kilter.store.verbs.files import attach, file_store
from kilter.thermal.figures import surfaces
from kilter.thermal.units import unit_keys

DOING = "Cannot note this about the picture"
EDITION, MOST_BYTES, MOST_MARKS = 1, 200_000, 200
FARTHEST = 1e5


@dataclass(frozen=True)
class Said:
    """
    What was written down, the latest.

    Args:
        unit: Key of data/thermal.toml units; '' where the file tells it.
        ambient: Of the room; None where nobody read it. [degC]
        before: SHA-256 of the picture of the same view before power; '' for none.
        marks: Parts and where they are on it.
    """

    unit: str = ""
    ambient: float | None = None
    before: str = ""
    marks: tuple[Mark, ...] = ()

    def with_mark(self, mark: Mark) -> Said:
        """With one mark more, in place of an earlier one of the same part."""
        return replace(self.without(mark.ref), marks=(*self.without(mark.ref).marks, mark))

    def without(self, ref: str) -> Said:
        """Without the mark of a part."""
        return replace(self, marks=tuple(one for one in self.marks if one.ref != ref))


def said_of(filing: Filing) -> Said:
    """
    What stands about a picture; it belongs to the object and the content, wherever that is filed.

    Raises:
        BadInput: The file that tells it is damaged or missing.
    """
    rows = Filing.objects.filter(object=filing.object, kind=PLACES, name=_name(filing), withdrawn=False)
    last = rows.select_related("attachment").order_by("-pk").first()
    return _read(last) if last is not None else Said()


def say(actor: Person, filing: Filing, told: Said) -> None:
    """
    Writes it down, in place of what stood; the earlier one stays kept.

    Raises:
        BadInput: Something that no picture has.
        NotAllowed: The person's role does not allow it.
    """
    _check(told)
    content = json.dumps({"kilter_thermal": EDITION, **asdict(told)}, ensure_ascii=False).encode("utf-8")
    attach(actor, BytesIO(content), _name(filing), PLACES, "application/json", about=filing.object)


def _check(told: Said) -> None:
    if told.unit and told.unit not in unit_keys():
        raise BadInput(DOING, f"the unit '{told.unit[:40]}'", ", ".join(unit_keys()), "Choose it from the list.")
    if told.ambient is not None and not math.isfinite(told.ambient):
        raise BadInput(DOING, "a room temperature that is no number", "degrees Celsius", "Type it anew.")
    odd = next((one for one in told.marks if one.surface and one.surface not in surfaces()), None)
    if odd is not None:
        raise BadInput(DOING, f"the surface '{odd.surface[:40]}'", ", ".join(surfaces()), "Choose it from the list.")
    if len(told.marks) > MOST_MARKS:
        raise BadInput(DOING, f"{len(told.marks)} marks", f"at most {MOST_MARKS}", "Mark fewer parts.")
    if not all(abs(one.x) <= FARTHEST and abs(one.y) <= FARTHEST for one in told.marks):
        raise BadInput(DOING, "a mark beside the picture", "pixels of the picture", "Mark it again.")


def _name(filing: Filing) -> str:
    return f"thermal-{filing.attachment.sha256[:40]}.json"


def _read(filing: Filing) -> Said:
    with file_store().open(filing.attachment.sha256) as file:
        raw = file.read(MOST_BYTES)
    try:
        told: dict[str, Any] = json.loads(raw)
        marks = tuple(Mark(str(one["ref"]), float(one["x"]), float(one["y"]), str(one["surface"]))
                      for one in told["marks"])  # fmt: skip
        ambient = None if told["ambient"] is None else float(told["ambient"])
        found = Said(str(told["unit"]), ambient, str(told["before"]), marks)
    except (ValueError, KeyError, TypeError) as error:
        raise BadInput("Cannot read what was noted about the picture", f"a damaged file {filing.name}: {error}",
                       "the file as it was written", "Look into the backup.") from None  # fmt: skip
    _check(found)
    return found
