"""Plan the first switch-on: rails with power off, which way round parts stand, and a ramp with a current limit."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from kilter.circuit.board import Board, State
from kilter.measure.errors import BadInput
from kilter.measure.quantities import quantity
from kilter.measure.tables import table
from kilter.safety.first_power.numbers import number
from kilter.safety.first_power.polarity import Polarity, polarities
from kilter.safety.first_power.rails import RailCheck, check_rails
from kilter.safety.first_power.ramp import Ramp, plan_ramp, sweep_shorts

CAUTIONS = (
    "The ramp was worked out from the model of the board. It does not say that switching on is safe: faults that the "
    "model lacks, several shorts at once and whatever nobody described were not looked at.",
    "Use a bench supply with a current limit, on a socket that can be pulled in one move. Stop at smoke, smell, noise, "
    "or when a part is too hot for a finger; do not try again before the reason is known.",
    "Mains inside the object, picture tubes and large capacitors are for people trained for them, under the rules of "
    "your house and country.",
)


@dataclass(frozen=True)
class SwitchOnPlan:
    """
    The plan.

    Args:
        board: Title of the board.
        state: The powered state that it leads to; '' where the board has none.
        meter: Class of the meter that the ohms are for.
        looks: Checks by eye and hand, in words.
        rails: Readings with the power off.
        polarity: Polarised capacitors.
        unplug: Parts in sockets, left out of the first ramp.
        bare: The ramp without them; None where there are none, or no ramp.
        whole: The ramp with everything in place; None where none can be planned.
        declared: Sum of the supply currents that the chips are said to draw. [A]
        why_none: Why there is no ramp.
        dwell: Time to wait at each step. [min]
    """

    board: str
    state: str
    meter: str
    looks: tuple[str, ...]
    rails: tuple[RailCheck, ...]
    polarity: tuple[Polarity, ...]
    unplug: tuple[str, ...]
    bare: Ramp | None
    whole: Ramp | None
    declared: float
    why_none: str
    dwell: float

    def plain(self) -> dict[str, Any]:
        """As plain data."""
        return {**asdict(self), "cautions": list(CAUTIONS)}


def plan_switch_on(board: Board, state_name: str = "", meter: str = "") -> SwitchOnPlan:
    """
    Plans it.

    Args:
        board: The object's.
        state_name: The powered state to reach; the first one that may be proposed unless given.
        meter: Class of the ohmmeter; the usual one unless given.

    Raises:
        BadInput: The state is not there or not powered.
    """
    state = _powered(board, state_name)
    meter = meter or quantity("resistance").default_instrument
    sources = _sources(board, state) if state else []
    why = _why_none(board, state, sources)
    whole = bare = None
    polarity: tuple[Polarity, ...] = ()
    unplug = tuple(part.ref for part in board.parts.values() if part.socketed and part.ref not in
                   (state.unplugged if state else ()))  # fmt: skip
    if state is not None and not why:
        swept = sweep_shorts(board, state, sources)
        whole = plan_ramp(board, swept)
        polarity = polarities(board, swept.equations, swept.nominal[:, -1])
        if unplug:
            out = state
            for ref in unplug:
                out = out.after(unplugged=ref)
            bare = plan_ramp(board, sweep_shorts(board, out, sources))
    off = next((one for one in board.states.values() if not one.powered), State("off", powered=False))
    amps = whole.steps[-1].limit if whole else None
    return SwitchOnPlan(
        board.name, state.name if state else "", meter, tuple(one["words"] for one in table("power_checks")["checks"]),
        check_rails(board, off, meter, amps, int(number("ramp", "samples"))), polarity, unplug, bare, whole,
        _declared(board), why, number("ramp", "dwell_minutes"),
    )  # fmt: skip


def _powered(board: Board, name: str) -> State | None:
    if not name:
        return next((one for one in board.states.values() if one.powered and one.offered), None)
    state = board.state(name)
    if not state.powered:
        powered = ", ".join(one.name for one in board.states.values() if one.powered) or "none: the board has none"
        raise BadInput("Cannot plan a switch-on", f"the state '{name}', in which no supply is on", powered,
                       "Name a powered state.")  # fmt: skip
    return state


def _sources(board: Board, state: State) -> list[str]:
    """Voltage sources that stand for the outside world and are on."""
    return [one.name for one in board.elements.values()
            if one.kind == "V" and not one.part and state.supplies.get(one.name, one.value)]  # fmt: skip


def _why_none(board: Board, state: State | None, sources: list[str]) -> str:
    if not board.elements:
        return "The board has no circuit, so nothing can be said about currents."
    if state is None:
        return "The board declares no powered state."
    if not sources:
        return f"No voltage source of the circuit is on in the state '{state.name}'."
    return ""


def _declared(board: Board) -> float:
    rails = {rail.net: abs(rail.nominal) for rail in board.rails.values()}
    return sum(rails.get(one.nodes[0], 0.0) / one.value for one in board.elements.values() if one.stands_for_chip)
