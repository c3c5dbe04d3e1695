"""Check whether an adaptor suits an object, and what it may have done if it was used already."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from kilter.circuit.board import Board
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.records.power import Mains, Offered, Wanted
from kilter.safety.adaptor import AdaptorVerdict, check_adaptor
from kilter.safety.exposure import Exposed, exposed, exposed_to

CAUTIONS = (
    "Nothing here says that it is safe to plug in: only what was given was checked, not the adaptor's insulation, its "
    "cable, the object's condition or the wiring of its socket.",
    "Mains and what is inside an adaptor are for people trained for them, under the rules of your house and country.",
    "An old adaptor is looked at and inspected as a mains appliance before it is used at all.",
)


@dataclass(frozen=True)
class AdaptorReport:
    """
    The verdict with its findings, cautions, and what an object that was fed so was exposed to.

    Args:
        saw: In words, what the object saw if it was used; empty where nothing speaks for damage.
        exposed: Failure modes of the board's parts that it makes likelier; empty without a board or a use.
    """

    verdict: AdaptorVerdict
    saw: tuple[str, ...]
    exposed: tuple[Exposed, ...]

    def plain(self) -> dict[str, Any]:
        """As plain data; `evidence` is what `kilter diagnose --evidence` takes."""
        plug = self.verdict.plug
        return {
            "verdict": self.verdict.verdict,
            "findings": [
                {"rule": one.rule, "level": one.level, "words": one.words, "do_next": one.do_next}
                for one in self.verdict.findings
            ],
            "volts_loaded": list(plug.loaded) if plug else None,
            "volts_open_most": plug.open_most if plug else None,
            "saw": list(self.saw),
            "evidence": [
                {"part": one.part, "mode": one.mode, "log_ratio": one.log_ratio, "because": one.because}
                for one in self.exposed
            ],
            "cautions": list(CAUTIONS),
        }


def report(
    wanted: Wanted, offered: Offered, mains: Mains, *, used: bool = False, board: Board | None = None
) -> AdaptorReport:
    """
    The check.

    Args:
        used: The object was already fed from this adaptor.
        board: Its parts are those that were exposed.
    """
    verdict = check_adaptor(wanted, offered, mains)
    saw = exposed_to(verdict) if used else ()
    return AdaptorReport(verdict, saw, exposed(board, verdict) if used and board is not None else ())


def mains_at(place: str, hertz: float | None = None) -> Mains:
    """
    The mains at a place of data/safety/mains.toml.

    Raises:
        BadInput: No such place.
    """
    places = table("safety/mains")
    if place not in places:
        raise BadInput("Cannot look up the mains", f"the place '{place}'", ", ".join(places),
                       "Use one of these, or give volts and hertz.")  # fmt: skip
    row = places[place]
    known = row["hertz"][0] if len(row["hertz"]) == 1 else None
    return Mains(float(row["volts"]), float(row["low"]), float(row["high"]), known if hertz is None else hertz)
