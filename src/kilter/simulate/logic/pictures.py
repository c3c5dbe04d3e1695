"""What faults do to the logic of a board: each fault as one picture or several, with their shares."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product

from kilter.circuit.board import GROUND, Board, State
from kilter.measure.tables import table
from kilter.parts.kinds import Mode
from kilter.records.part import Part
from kilter.simulate.circuit.faults import mode_of, present_faults
from kilter.simulate.logic.defects import Bridge, Dead, Defect, NetStuck, PinOpen, PinStuck, supply_pins
from kilter.simulate.logic.live_board import CLOCK_SOURCES, LiveBoard
from kilter.simulate.prediction import Fault, Hypothesis

LEVEL = {"stuck_low": "0", "stuck_high": "1"}
SHORT_OHM = 100.0
"""A bridge of more is a leak, which logic hardly feels."""


@dataclass(frozen=True)
class Picture:
    """
    One way in which a fault set may look.

    Args:
        share: How likely it looks so.
        defects: What is wrong in the logic.
        unpulled: Nets whose pull resistor is gone.
        unpowered: A supply is pulled down, so that nothing works.
    """

    share: float
    defects: tuple[Defect, ...] = ()
    unpulled: frozenset[str] = frozenset()
    unpowered: bool = False


WELL = (Picture(1.0),)
MOST = 4
"""Pictures of one fault set; the likeliest are kept."""


class Pictures:
    """The pictures of one board, each fault looked up once."""

    def __init__(self, board: Board, live: LiveBoard) -> None:
        self.board, self.live = board, live
        self._known: dict[Fault, tuple[Picture, ...]] = {}

    def of(self, state: State, hypothesis: Hypothesis) -> tuple[Picture, ...]:
        """
        The pictures of a fault set in a state; their shares add up to one.

        Raises:
            BadInput: A fault that there is not.
        """
        known = [self._fault(fault) for fault in sorted(present_faults(state, hypothesis))]
        known += [self._state(state)] if state.unplugged or state.lifted else []
        return _together(known)

    def _state(self, state: State) -> tuple[Picture, ...]:
        """What is out of its socket, and pins lifted."""
        defects: list[Defect] = [Dead(ref, "Z") for ref in sorted(state.unplugged) if self._drives(ref)]
        gone: set[str] = set()
        for ref in sorted(state.unplugged):
            gone |= self.live.pulled_by.get(ref, frozenset())
        for ref, _, pin in (place.partition(".") for place in sorted(state.lifted)):
            defects += self._open(ref, pin)
            gone |= self.live.pulled_by.get(ref, frozenset())
        return (Picture(1.0, tuple(defects), frozenset(gone)),)

    def _fault(self, fault: Fault) -> tuple[Picture, ...]:
        if fault not in self._known:
            ref, key = fault
            self._known[fault] = tuple(self._mode(self.board.parts.get(ref), mode_of(self.board, ref, key)))
        return self._known[fault]

    def _mode(self, part: Part | None, mode: Mode) -> Sequence[Picture]:
        assert part is not None
        if self._shorts_supply(part, mode):
            return (Picture(1.0, unpowered=True),)
        if part.kind in CLOCK_SOURCES or part.ref in self.live.clock_parts:
            return self._clock(part, mode)
        if part.ref in self.live.netlist.signal_pins:
            return self._chip(part, mode)
        return self._passive(part, mode)

    def _shorts_supply(self, part: Part, mode: Mode) -> bool:
        """Whether it pulls a supply to ground; where there is a circuit, that says so better."""
        if self.board.elements:
            return False
        rails = {rail.net for rail in self.board.rails.values()}
        for change in mode.circuit:
            nets = {part.pins.get(pin, "") for pin in change.pins}
            if change.verb == "bridge" and change.amount <= SHORT_OHM and GROUND in nets and nets & rails:
                return True
        return False

    def _clock(self, part: Part, mode: Mode) -> Sequence[Picture]:
        """A clock source that stops rests at either level; one of wrong frequency still moves."""
        nets = [net for net in self.live.nets_of(part) if net in self.live.stimulus.clocks]
        rests = [Picture(0.5, tuple(NetStuck(net, level) for net in nets)) for level in "01"]
        if mode.key == "wrong" or not nets:
            return WELL
        return [Picture(0.5), *(Picture(0.25, one.defects) for one in rests)] if mode.key == "intermittent" else rests

    def _chip(self, part: Part, mode: Mode) -> Sequence[Picture]:
        ref, (word, *pins) = part.ref, mode.key.split(" ")
        if word == "open" and pins:
            return self._felt(part, pins[0], self._open(ref, pins[0]))
        if word in LEVEL and pins:
            return self._stuck(part, pins[0], LEVEL[word])
        if word == "bridge" and len(pins) == 2:
            return (Picture(1.0, tuple(self._bridge(part, *pins))),)
        if not self._drives(ref):
            return WELL
        if word == "dead":
            return Picture(0.5, (Dead(ref, "0"),)), Picture(0.5, (Dead(ref, "Z"),))
        if word in LEVEL:
            return (Picture(1.0, (Dead(ref, LEVEL[word]),)),)
        if word in ("intermittent", "slow"):
            return Picture(0.5), Picture(0.5, (Dead(ref, "X"),))
        return (Picture(1.0, (Dead(ref, "X"),)),)

    def _felt(self, part: Part, pin: str, defects: list[Defect]) -> Sequence[Picture]:
        """A pin of which the logic does not know what it does may upset the chip."""
        if defects or not self._drives(part.ref) or part.pins.get(pin) not in self.live.known_nets:
            return (Picture(1.0, tuple(defects)),)
        upset = float(table("logic/running")["pin"]["unmodelled"])
        return Picture(1.0 - upset), Picture(upset, (Dead(part.ref, "X"),))

    def _stuck(self, part: Part, pin: str, level: str) -> Sequence[Picture]:
        """A shorted input pulls its net, or is stuck inside only; a stuck output pulls its net."""
        live, net = self.live, self.live.net(part.pins.get(pin, ""))
        known = pin in live.netlist.signal_pins[part.ref]
        pulls = [Picture(1.0, (NetStuck(net, level),))] if net in live.known_nets else []
        if known and self._drives(part.ref, pin):
            return (Picture(1.0, (PinStuck(part.ref, pin, level),)),)
        inside = self._felt(part, pin, [PinStuck(part.ref, pin, level)] if known else [])
        if not pulls:
            return inside
        share = float(table("logic/running")["pin"]["input_pulls_net"])
        return [*(_scaled(one, 1.0 - share) for one in inside), *(_scaled(one, share) for one in pulls)]

    def _open(self, ref: str, pin: str) -> list[Defect]:
        netlist = self.live.netlist
        there = pin in netlist.signal_pins.get(ref, {}) or (pin in supply_pins(netlist, ref) and self._drives(ref))
        return [PinOpen(ref, pin)] if there else []

    def _bridge(self, part: Part, one: str, other: str) -> Iterable[Defect]:
        nets = [self.live.net(part.pins[pin]) for pin in (one, other)]
        levels = [self.live.supplies.get(net) for net in nets]
        if nets[0] == nets[1] or all(levels):
            return
        for net, level in ((nets[0], levels[1]), (nets[1], levels[0])):
            if level is not None and net in self.live.known_nets:
                yield NetStuck(net, level)
        if not any(levels) and set(nets) <= self.live.known_nets:
            yield Bridge(nets[0], nets[1], "and")

    def _passive(self, part: Part, mode: Mode) -> Sequence[Picture]:
        """A resistor that pulls, a part that shorts a net; what else touches the logic leaves its nets unknown."""
        touched = sorted(set(self.live.nets_of(part)) & self.live.known_nets - set(self.live.supplies))
        verbs = {change.verb for change in mode.circuit}
        if part.kind in self.live.holds_nothing and verbs <= {"open", "scale"}:
            return WELL
        if (pulled := self.live.pulled_by.get(part.ref)) and "open" in verbs:
            pins = [change.pins[0] for change in mode.circuit if change.verb == "open"]
            own = {self.live.net(part.pins[pin]) for pin in pins if pin in part.pins}
            return (Picture(1.0, unpulled=frozenset(pulled & own or pulled)),)
        if pulled and verbs <= {"scale"}:
            return WELL
        bridged = [change for change in mode.circuit if change.verb == "bridge" and len(change.pins) == 2]
        if verbs == {"bridge"} and all(pin in part.pins for change in bridged for pin in change.pins):
            if any(change.amount > SHORT_OHM for change in bridged):
                return WELL
            return (Picture(1.0, tuple(one for change in bridged for one in self._bridge(part, *change.pins))),)
        return (Picture(1.0, tuple(NetStuck(net, "X") for net in touched)),) if touched and verbs else WELL

    def _drives(self, ref: str, pin: str | None = None) -> bool:
        drivers = self.live.netlist.pin_drivers.get(ref, {})
        return bool(drivers) if pin is None else pin in drivers


def _scaled(one: Picture, share: float) -> Picture:
    return Picture(one.share * share, one.defects, one.unpulled, one.unpowered)


def _together(each: Sequence[tuple[Picture, ...]]) -> tuple[Picture, ...]:
    """All faults at once: every combination, the likeliest ones."""
    found = []
    for combination in product(*each):
        share = 1.0
        for one in combination:
            share *= one.share
        found.append(
            Picture(
                share,
                tuple(dict.fromkeys(defect for one in combination for defect in one.defects)),
                frozenset().union(*(one.unpulled for one in combination)),
                any(one.unpowered for one in combination),
            )
        )
    kept = sorted(found, key=lambda one: -one.share)[:MOST]
    total = sum(one.share for one in kept)
    return tuple(_scaled(one, 1.0 / total) for one in kept)
