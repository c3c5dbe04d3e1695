"""How a cure is carried out: steps, heat, hole fill, what cleans a leak, and cautions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.planning.numbers import number, numbers
from kilter.planning.options.cure import Cure
from kilter.records.part import Part

NEVER_WIPED = "unknown"


@dataclass(frozen=True)
class Rework:
    """
    A plan for the bench.

    Args:
        cure: What is done.
        joints: That are heated.
        heat: Times that each of them is heated.
        most_heat: Times that a pad may be heated before it is likely to come off, and how often it was already.
        steps: In order, one sentence each.
        clean: What to do about a leak; '' where none was named.
        cautions: Sentences.
    """

    cure: Cure
    joints: int
    heat: int
    most_heat: int
    steps: tuple[str, ...]
    clean: str
    cautions: tuple[str, ...]

    @property
    def too_hot(self) -> bool:
        """Whether a pad would be heated more often than it is likely to bear."""
        return self.heat > self.most_heat


def leak_kinds() -> tuple[str, ...]:
    """What may have leaked."""
    return tuple(table("planning/rework")["leaks"])


def rework(part: Part, cure: Cure, *, leak: str = "", heated_before: int = 0) -> Rework:
    """
    The plan for one cure of one part.

    Args:
        part: That is treated.
        cure: Of that part.
        leak: One of `leak_kinds()` where something leaked there, else ''.
        heated_before: Times that its joints were heated before, as far as the record says.

    Raises:
        BadInput: No such leak, or a count that cannot be.
    """
    if leak and leak not in leak_kinds():
        raise BadInput(
            "Cannot plan the rework", f"the leak '{leak}'", ", ".join(leak_kinds()), "Use one of these words."
        )
    if not 0 <= heated_before <= 100:
        raise BadInput("Cannot plan the rework", f"{heated_before} times heated before", "0 to 100",
                       "Count the earlier repairs at these joints.")  # fmt: skip
    method = cure.key.split(" ")[0]
    times = _times(method, part)
    joints = len(part.pins) if times else 0
    told = table("planning/rework")["leaks"].get(leak)
    cautions = [*(told["cautions"] if told else ()), *numbers("rework", "cautions")]
    return Rework(
        cure, joints, times, max(0, int(number("rework", "most_heat_cycles")) - heated_before),
        tuple(_steps(part, cure, method, times, told)), _cleaning(told), tuple(cautions),
    )  # fmt: skip


def _times(method: str, part: Part) -> int:
    if method in ("reseat", "clean") or (method == "replace" and part.socketed):
        return 0
    return int(numbers("rework", "heat_cycles").get(method, 0))


def _cleaning(told: dict[str, Any] | None) -> str:
    return f"{told['words'].capitalize()}. {told['check']}. {told['agent']}." if told else ""


def _steps(part: Part, cure: Cure, method: str, times: int, told: dict[str, Any] | None) -> list[str]:
    steps = ["Photograph the part and its surroundings; note which way round it stands and every marking on it."]
    if told:
        steps.append("Clean the leak first: heat drives it into the board.")
    if cure.piece:
        where = f" ({cure.origin})" if cure.origin else ""
        steps.append(
            f"Test the piece that goes in before anything comes out{where}; where it cannot be tested, say so."
        )
    if part.socketed and method in ("replace", "reseat"):
        steps.append(
            "Lift it evenly at both ends, look at pins and contacts, press it back straight, pin 1 to its mark."
        )
    steps += _heat_steps(part, cure, method, times)
    if method == "clean":
        steps.append(
            "Contact cleaner without oil on a swab or a strip of card; no file, no sandpaper on plated contacts."
        )
    if method == "replica_supply":
        steps.append(
            "Disconnect the old supply so that it can be joined again, label the ends, and leave it in its place."
        )
        steps.append("Set the outside supply to the rail, limit its current, and check its polarity at the plug.")
    if cure.piece:
        steps.append(f"Bag what came out, number it, and write {part.ref}, the object and the date on it.")
    steps.append(
        "Look at the place through a lens, measure for shorts to its neighbours with the power off, write it down."
    )
    return steps


def _heat_steps(part: Part, cure: Cure, method: str, times: int) -> list[str]:
    if not times:
        return []
    iron = numbers("rework", "iron")["original" if part.original else "later"]
    found = [
        f"Fresh solder and flux first; iron at about {iron} degC with old tin-lead solder, short and without force."
    ]
    if times > 1:
        found.append(
            f"Free every pin before it is pulled; wait {number('rework', 'cooling'):g} s before a pad is heated again."
        )
        if method == "socket" or (method == "replace" and len(part.pins) > 2 and not cure.piece):
            found.append(
                "Where pins do not come free, cutting them costs the part and keeps the pads: decide it beforehand."
            )
    fill = 100 * number("rework", "hole_fill")
    found.append(f"Plated holes are to be filled to at least {fill:.0f} % of their depth (from memory of IPC-A-610).")
    if method == "socket":
        found.append("Fit the socket, check every pin through to its trace, then plug in the chip, pin 1 to its mark.")
    return found
