"""
The board: type-level knowledge of one revision of one design.

A board holds *parts* (what a hand can touch), *elements* (the electrical primitives that stand for them in the
circuit predictor), *blocks* (parts seen as functions), *points* (where a probe goes) and *states*.
Each level may be empty: a board of blocks only, or of parts and nets only, is a board.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from kilter.records.history import History
from kilter.records.part import Part

GROUND = "0"
"""Name of the reference net, as in a SPICE netlist."""

NOTHING: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Element:
    """
    One electrical primitive of the circuit predictor.

    Args:
        name: Unique, such as 'R7' or 'U1.Q3' for the inside of a subcircuit.
        kind: SPICE letter: R C L D Q V I E F G H.
        nodes: Nets in SPICE order (Q: collector, base, emitter; E and G: out+, out-, in+, in-).
        value: Ohm, farad, henry, volt, ampere or gain. D and Q: area. [SI]
        part: The part it belongs to; '' for sources that stand for the outside world.
        model: Model parameters in lower case, such as {'is': 1e-14, 'bf': 100}; 'pnp' is a polarity of -1.
        control: Name of the voltage source whose current controls an F or H, else ''.
        tolerance: Relative two-sigma spread of the value over healthy parts; None takes the kind's default.
        ac: Small-signal amplitude of a V or I source. [V or A]
    """

    name: str
    kind: str
    nodes: tuple[str, ...]
    value: float
    part: str = ""
    model: Mapping[str, float] = field(default_factory=lambda: NOTHING)
    control: str = ""
    tolerance: float | None = None
    ac: float = 0.0

    @property
    def stands_for_chip(self) -> bool:
        """Whether it is the resistance by which a chip's supply current is modelled; an unpowered chip is none."""
        return self.name.startswith("R_") and self.name.endswith(".load")


@dataclass(frozen=True, slots=True)
class Point:
    """
    A named place to put a probe.

    Args:
        name: Such as 'TP3', 'U4.12' or a net name.
        net: The net the (red) probe touches.
        against: The net of the other (black) probe; ground unless said.
        label: Words that lead a hand to it.
        position: (x, y) in millimetres, else None.
        grade: Intervention grade of reaching it (2 is probe contact).
        minutes: Time to take one reading there, None for the default of the quantity.
        reachable: False where no probe can go; such a point is predicted but never asked for.
    """

    name: str
    net: str
    against: str = GROUND
    label: str = ""
    position: tuple[float, float] | None = None
    grade: int = 2
    minutes: float | None = None
    reachable: bool = True


@dataclass(frozen=True, slots=True)
class Rail:
    """A supply net and the band in which the chips on it may be expected to work. [V]"""

    name: str
    net: str
    nominal: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Need:
    """What a block asks of the analogue circuit: the voltage at a point between two limits. [V]"""

    point: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Block:
    """
    A part or group seen as a function with ports.

    Args:
        name: Such as 'divider' or 'U5'.
        kind: Key into the block kinds of the activity predictor: oscillator, divider, reset, processor...
        parts: The parts whose failure modes act on this block; the first one is its chip.
        rails: Rails it needs.
        inputs: Port name to signal name.
        outputs: Port name to signal name. A signal that is also a point's or a net's name can be read there.
        needs: Bias conditions in the circuit without which it does not work.
        numbers: Parameters by name: divide, frequency [Hz], current [A], ...
    """

    name: str
    kind: str
    parts: tuple[str, ...] = ()
    rails: tuple[str, ...] = ()
    inputs: Mapping[str, str] = field(default_factory=dict)
    outputs: Mapping[str, str] = field(default_factory=dict)
    needs: tuple[Need, ...] = ()
    numbers: Mapping[str, float] = field(default_factory=lambda: NOTHING)


@dataclass(frozen=True, slots=True)
class State:
    """
    How the object stands while it is read.

    Args:
        name: Such as 'off', 'bench'.
        powered: Whether any supply is on.
        supplies: Source element name to its setting in this state; unnamed ones keep their netlist value. [V or A]
        unplugged: Parts pulled, lifted whole or disconnected.
        lifted: Single pins lifted, as 'Q2.b'.
        renewed: Parts replaced by good ones since the first reading.
        modes: Choice of each switch part: ref to 'open' or 'closed'.
        hertz: Frequency of the sources that have a small-signal amplitude; 0 for none.
        offered: Whether tests in it may be proposed; readings may be taken in it either way.
        label: Words for people.
    """

    name: str
    powered: bool
    supplies: Mapping[str, float] = field(default_factory=lambda: NOTHING)
    unplugged: frozenset[str] = frozenset()
    lifted: frozenset[str] = frozenset()
    renewed: frozenset[str] = frozenset()
    modes: Mapping[str, str] = field(default_factory=dict)
    label: str = ""
    hertz: float = 0.0
    offered: bool = True

    def after(self, *, unplugged: str = "", lifted: str = "", renewed: str = "", name: str = "") -> State:
        """The state that follows when one part is pulled, one pin lifted or one part renewed."""
        return replace(
            self,
            name=name or self.name,
            unplugged=self.unplugged | {unplugged} - {""},
            lifted=self.lifted | {lifted} - {""},
            renewed=self.renewed | {renewed} - {""},
        )


@dataclass(frozen=True)
class Board:
    """
    Everything known about one revision of one design.

    Args:
        name: Title for people.
        parts: By reference.
        elements: By name; empty when no circuit is known.
        points: By name.
        rails: By name.
        blocks: By name, in signal-flow order where the writer knows one.
        states: By name; every board has at least 'off'.
        guesses: One sentence for each thing an importer inferred rather than read.
        warnings: One sentence, with its line number, for each thing left out or doubted.
        revision: Of the design.
        source: Where it was read from, for people.
        history: What came with the object: old labels, signs seen.
        kinds: What kind of object it is, such as 'valve radio'; hazards follow from it.
        chassis: What its chassis is joined to: 'isolated', 'live', 'unknown', or '' where nothing is said.
        remarks: Free words about the object.
    """

    name: str
    parts: Mapping[str, Part] = field(default_factory=dict)
    elements: Mapping[str, Element] = field(default_factory=dict)
    points: Mapping[str, Point] = field(default_factory=dict)
    rails: Mapping[str, Rail] = field(default_factory=dict)
    blocks: Mapping[str, Block] = field(default_factory=dict)
    states: Mapping[str, State] = field(default_factory=dict)
    guesses: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    revision: str = ""
    source: str = ""
    history: History = field(default_factory=History)
    kinds: tuple[str, ...] = ()
    chassis: str = ""
    remarks: tuple[str, ...] = ()

    def nets(self) -> dict[str, list[str]]:
        """Net name to the 'ref.pin' places on it, in part order; nets inside a subcircuit are left out."""
        found: dict[str, list[str]] = {}
        for part in self.parts.values():
            for pin, net in part.pins.items():
                found.setdefault(net, []).append(f"{part.ref}.{pin}")
        return found

    def state(self, name: str) -> State:
        """
        The state of that name.

        Raises:
            BadInput: The board has no such state; the message lists those it has.
        """
        from kilter.measure.errors import BadInput

        if name in self.states:
            return self.states[name]
        raise BadInput(
            f"Cannot find a state of board {self.name}",
            f"the state name '{name}'",
            ", ".join(self.states) or "none: the board file declares no state",
            "Use one of these names or add the state to the board file.",
        )
