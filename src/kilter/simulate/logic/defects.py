"""
What can be wrong with chips and tracks, and its name as a fault: (part, mode), such as ('U3', 'pin 5 stuck_low').

Modes of a chip: 'pin P stuck_low', 'pin P stuck_high', 'pin P open' (also for its supply and ground pins),
'dead_low', 'dead_floating', 'pins P Q bridge_and' (also bridge_or, bridge_first, bridge_second: who wins).
A stuck input is stuck inside the chip: others on the net see the net. A stuck output pulls its whole net.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from kilter.measure.errors import BadInput
from kilter.simulate.logic.faults import Line, StuckAt
from kilter.simulate.logic.netlist import LogicNetlist


@dataclass(frozen=True, slots=True)
class PinStuck:
    """A pin kept at '0' or '1'."""

    part: str
    pin: str
    value: str


@dataclass(frozen=True, slots=True)
class PinOpen:
    """A pin that no longer touches its net; an open supply or ground pin leaves the chip unsupplied."""

    part: str
    pin: str


@dataclass(frozen=True, slots=True)
class Dead:
    """All outputs of a chip at '0', or let go: 'Z'."""

    part: str
    outputs: str


@dataclass(frozen=True, slots=True)
class NetStuck:
    """A whole net kept at '0' or '1', as by a short to ground or supply."""

    net: str
    value: str


@dataclass(frozen=True, slots=True)
class Bridge:
    """
    Two nets joined. Winner: 'and' (low wins), 'or' (high wins), 'first' or 'second' (that net's driver wins).

    Which one holds depends on the drivers; where it is not known, weigh all of them.
    """

    first: str
    second: str
    winner: str


Defect = PinStuck | PinOpen | Dead | NetStuck | Bridge | StuckAt

STUCK = {"stuck_low": "0", "stuck_high": "1"}
DEAD = {"dead_low": "0", "dead_floating": "Z"}
WINNERS = ("and", "or", "first", "second")


def modes(netlist: LogicNetlist, part: str) -> list[str]:
    """Every mode of one part: stuck and open for each pin, bridges between pins that follow each other, dead."""
    signal, supply = signal_pins(netlist, part), supply_pins(netlist, part)
    found = [f"pin {pin} {mode}" for pin in signal for mode in (*STUCK, "open")]
    found += [f"pin {pin} open" for pin in supply]
    for one, other in pairwise(signal):
        if signal[one] != signal[other]:
            found += [f"pins {one} {other} bridge_{winner}" for winner in WINNERS]
    return found + list(DEAD)


def defect(netlist: LogicNetlist, part: str, mode: str) -> Defect:
    """
    The defect that a fault's name stands for.

    Raises:
        BadInput: The part is not in the netlist or has no such mode; the message lists what it has.

    >>> from kilter.simulate.logic.netlist import Gate
    >>> board = LogicNetlist((Gate("not", ("a",), "y", "U1", ("1",), "2"),), ("a",), ("y",))
    >>> defect(board, "U1", "pin 2 stuck_high")
    PinStuck(part='U1', pin='2', value='1')
    """
    signal, supply = signal_pins(netlist, part), supply_pins(netlist, part)
    if signal:
        match mode.split(" "):
            case [word] if word in DEAD:
                return Dead(part, DEAD[word])
            case ["pin", pin, "open"] if pin in signal or pin in supply:
                return PinOpen(part, pin)
            case ["pin", pin, word] if word in STUCK and pin in signal:
                return PinStuck(part, pin, STUCK[word])
            case ["pins", one, other, word] if one in signal and other in signal and word[7:] in WINNERS:
                if word.startswith("bridge_") and signal[one] != signal[other]:
                    return Bridge(signal[one], signal[other], word[7:])
    parts = sorted({gate.part for gate in netlist.gates} | {register.part for register in netlist.registers})
    allowed = ", ".join(modes(netlist, part)) if signal else "the parts " + ", ".join(filter(None, parts))
    doing = f"Cannot look up a fault in the logic netlist {netlist.name}"
    raise BadInput(doing, f"part '{part}' with mode '{mode}'", allowed, "Use one of these names.")


def signal_pins(netlist: LogicNetlist, part: str) -> dict[str, str]:
    """Pin to net of one part, pin numbers in order."""
    return dict(netlist.signal_pins.get(part, {}))


def supply_pins(netlist: LogicNetlist, part: str) -> tuple[str, ...]:
    """Supply and ground pins of one part, as far as the netlist knows them."""
    chip = netlist.chips.get(part)
    return chip.supply + chip.ground if chip else ()


def stuck_lines(netlist: LogicNetlist, stuck: PinStuck) -> list[StuckAt]:
    """The stuck lines, all at once, that a stuck pin is to the two-valued engine; gates only."""
    value = int(stuck.value)
    found = []
    for index, gate in enumerate(netlist.gates):
        if gate.part != stuck.part:
            continue
        places = [position for position, pin in enumerate(gate.pins) if pin == stuck.pin]
        found += [StuckAt(Line(gate.inputs[position], index, position), value) for position in places]
        if gate.output_pin == stuck.pin:
            found.append(StuckAt(Line(gate.output), value))
    return found
