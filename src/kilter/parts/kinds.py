"""Part kinds: what can go wrong with a resistor, an electrolytic, a chip; read from data/part_kinds.toml."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from importlib.resources import files
from math import inf, log

from kilter.measure.errors import BadInput, OutOfRange
from kilter.parts.pin_modes import STUCK_WORDS, neighbours, signal_pins, stuck_weights
from kilter.records.part import Part

GIVES = "gives"
"""First word of the mode and of the block effect 'gives N'."""


@dataclass(frozen=True, slots=True)
class Change:
    """
    One change to the circuit: exactly one of the four verbs.

    Args:
        verb: 'open' (detach pin), 'bridge' (join two pins through a resistance), 'scale' or 'set' (a number).
        pins: The pin or the two pins, by name or, for kinds without fixed names, by place ('1', '2').
        number: For scale and set: 'value' or a model parameter.
        amount: Ohm for a bridge, the factor for scale, the new SI value for set.
    """

    verb: str
    pins: tuple[str, ...] = ()
    number: str = ""
    amount: float = 0.0


@dataclass(frozen=True, slots=True)
class Mode:
    """
    One way in which a part fails.

    Args:
        key: Such as 'open', 'short', 'leak', 'dead'.
        words: What a person would say: 'leaks current'.
        odds: Chance that a part of this kind arrives with this mode, before any reading.
        circuit: Changes to the circuit; empty when the circuit does not feel it.
        block: Effect on a block that the part belongs to: '' none, or 'dead', 'stuck_low', 'wrong', 'gives 7'...
        heat: '' as usual, 'hot' or 'cold' to the touch or camera.
        signs: Chance of each sign that an eye could see, such as {'bulged': 0.4}.
    """

    key: str
    words: str
    odds: float
    circuit: tuple[Change, ...] = ()
    block: str = ""
    heat: str = ""
    signs: Mapping[str, float] = field(default_factory=dict)

    @property
    def drift(self) -> float | None:
        """The factor on the part's value where that is all that the mode changes in the circuit, else None."""
        only = self.circuit[0] if len(self.circuit) == 1 else None
        return only.amount if only is not None and (only.verb, only.number) == ("scale", "value") else None


@dataclass(frozen=True, slots=True)
class PartKind:
    """
    What is true of all parts of a kind.

    Args:
        key: Such as 'electrolytic'.
        words: What a person would say.
        letters: SPICE letters it may stand for.
        pins: Pin names in order; empty where every board names its own.
        tolerance: Two-sigma relative half-width of its value over healthy parts.
        odds: Chance that one such part is faulty in an object that arrives not working, before any reading.
        modes: Failure modes; their odds and the shares of each_pin_open and each_value add up to odds.
        source: Where the numbers come from.
        each_pin_open: Share of the odds spread evenly over 'one pin does not connect'.
        signs: Chance of each sign on a healthy old part of this kind.
        each_value: Share of the odds spread evenly over 'gives the value N whatever arrives'.
        values: How many values a part of this kind can give where its own number does not say; 0 where it has none.
        most_values: The largest such number.
        at_pins: Shares 'stuck' and 'bridge' of the odds of a digital chip whose pins the catalogue knows.
    """

    key: str
    words: str
    letters: str
    pins: tuple[str, ...]
    tolerance: float
    odds: float
    modes: tuple[Mode, ...]
    source: str
    each_pin_open: float = 0.0
    signs: Mapping[str, float] = field(default_factory=dict)
    each_value: float = 0.0
    values: int = 0
    most_values: int = 0
    at_pins: Mapping[str, float] = field(default_factory=dict)


@cache
def part_kinds() -> Mapping[str, PartKind]:
    """Every kind in the data file, by key."""
    table = tomllib.loads(files("kilter.data").joinpath("part_kinds.toml").read_text("utf-8"))
    return {key: _kind(key, entry) for key, entry in table.items()}


def part_kind(key: str, *, doing: str = "Cannot look up a part kind") -> PartKind:
    """
    The kind of that key.

    Raises:
        BadInput: No such kind; the message lists the kinds.
    """
    kinds = part_kinds()
    if key in kinds:
        return kinds[key]
    raise BadInput(doing, f"the part kind '{key}'", ", ".join(sorted(kinds)), "Use one of these kinds.")


def modes_of(part: Part) -> tuple[Mode, ...]:
    """
    The failure modes of one part: those of its kind, and where the kind says so one for each pin or for each value.

    A part whose pins nobody has written down (a board of blocks) has one mode 'contact' instead of one for each pin.
    A part that names the sizes of its drift has one mode for each of them in place of the kind's typical ones.

    Raises:
        BadInput: No such kind, or a number of values or a drift that a part of this kind cannot have.

    >>> from kilter.records.part import Part
    >>> [mode.key for mode in modes_of(Part("R1", "resistor", {"1": "a", "2": "b"}))][:2]
    ['open', 'high']
    >>> [mode.key for mode in modes_of(Part("M1", "function_unit", {}, number=2))]
    ['gives 0', 'gives 1']
    >>> [mode.key for mode in modes_of(Part("R1", "resistor", {}, drifts=(0.82, 1.18)))]
    ['open', 'short', 'value x0.82', 'value x1.18']
    """
    kind = part_kind(part.kind, doing=f"Cannot list the failure modes of {part.ref}")
    own = _each_drift(kind, part) if part.drifts else _at_pins(kind, part) or kind.modes
    return own + _each_pin_open(kind, part) + _each_value(kind, part)


def _at_pins(kind: PartKind, part: Part) -> tuple[Mode, ...]:
    """The kind's modes with 'an output stuck' said pin by pin; none where the pins are not known."""
    pins = signal_pins(part) if kind.at_pins else {}
    if not pins:
        return ()
    stuck, bridged = kind.at_pins["stuck"] * kind.odds, kind.at_pins["bridge"] * kind.odds
    made = [
        Mode(f"{key} {pin}", f"pin {pin} {words}", stuck * share / 2.0, block=_block_effect(key, pins[pin].direction))
        for pin, share in stuck_weights(pins).items()
        for key, words in STUCK_WORDS.items()
    ]
    pairs = neighbours(part, pins)
    made += [
        Mode(f"bridge {one} {other}", f"pins {one} and {other} bridged", bridged / len(pairs), block="wrong")
        for one, other in pairs
    ]
    rest = [mode for mode in kind.modes if mode.key not in STUCK_WORDS]
    room = kind.odds * (1.0 - kind.each_pin_open) - sum(mode.odds for mode in made)
    shrink = room / sum(mode.odds for mode in rest)
    return tuple(replace(mode, odds=mode.odds * shrink) for mode in rest) + tuple(made)


def _block_effect(key: str, direction: str) -> str:
    """What a stuck pin does to a block of which the chip is a member, as far as one can say without its logic."""
    return key if direction == "out" else "wrong"


def _each_drift(kind: PartKind, part: Part) -> tuple[Mode, ...]:
    """The kind's modes with its drifts split evenly over the sizes named; each looks like the nearest of the kind."""
    typical = [mode for mode in kind.modes if mode.drift is not None]
    if not typical or not all(0.0 < factor < inf and factor != 1.0 for factor in part.drifts):
        able = ", ".join(key for key, one in part_kinds().items() if any(mode.drift for mode in one.modes))
        raise OutOfRange(
            f"Cannot list the failure modes of {part.ref}",
            f"drifts to {', '.join(f'{factor:g}' for factor in part.drifts)} of the value of a {kind.words}",
            f"factors above 0 other than 1, for the kinds {able}",
            "Correct the drifts of the part or leave them out.",
        )
    odds = sum(mode.odds for mode in typical) / len(part.drifts)
    rest = tuple(mode for mode in kind.modes if mode.drift is None)
    return rest + tuple(_drifted(typical, factor, odds) for factor in part.drifts)


def _drifted(typical: list[Mode], factor: float, odds: float) -> Mode:
    nearest = min(typical, key=lambda mode: abs(log((mode.drift or 1.0) / factor)))
    change = Change("scale", number="value", amount=factor)
    return replace(
        nearest, key=f"value x{factor:g}", words=f"drifted to {factor:g} of its value", odds=odds, circuit=(change,)
    )


def _each_pin_open(kind: PartKind, part: Part) -> tuple[Mode, ...]:
    if not kind.each_pin_open:
        return ()
    if not part.pins:
        return (Mode("contact", "a pin does not connect", kind.odds * kind.each_pin_open, block="dead"),)
    odds = kind.odds * kind.each_pin_open / len(part.pins)
    return tuple(Mode(f"open {p}", f"pin {p} does not connect", odds, (Change("open", (p,)),)) for p in part.pins)


def _each_value(kind: PartKind, part: Part) -> tuple[Mode, ...]:
    """One mode for each value, so that a fault set says which wrong value goes round, and all that hear it agree."""
    if not kind.each_value:
        return ()
    values = kind.values if part.number is None else part.number
    if values != int(values) or not 2 <= values <= kind.most_values:
        raise OutOfRange(
            f"Cannot list the failure modes of {part.ref}", f"{values:g} as the number of values that it can give",
            f"a whole number from 2 to {kind.most_values}", "Correct the value of the part.",
        )  # fmt: skip
    odds = kind.odds * kind.each_value / values
    keys = (f"{GIVES} {value}" for value in range(int(values)))
    return tuple(Mode(key, f"{key} whatever arrives", odds, block=key) for key in keys)


def _kind(key: str, entry: Mapping[str, object]) -> PartKind:
    values = dict(entry)
    rows = values.pop("modes", [])
    odds = float(values["odds"])  # type: ignore[arg-type]
    assert isinstance(rows, list)
    return PartKind(
        key=key,
        words=str(values.get("words", key)),
        letters=str(values.get("letters", "")),
        pins=tuple(values.get("pins", ())),  # type: ignore[arg-type]
        tolerance=float(values.get("tolerance", 0.0)),  # type: ignore[arg-type]
        odds=odds,
        modes=tuple(_mode(row, odds) for row in rows),
        source=str(values["source"]),
        each_pin_open=float(values.get("each_pin_open", 0.0)),  # type: ignore[arg-type]
        signs=dict(values.get("signs", {})),  # type: ignore[call-overload]
        each_value=float(values.get("each_value", 0.0)),  # type: ignore[arg-type]
        values=int(values.get("values", 0)),  # type: ignore[call-overload]
        most_values=int(values.get("most_values", 0)),  # type: ignore[call-overload]
        at_pins=dict(values.get("at_pins", {})),  # type: ignore[call-overload]
    )


def _mode(row: Mapping[str, object], kind_odds: float) -> Mode:
    changes = row.get("circuit", [])
    assert isinstance(changes, list)
    return Mode(
        key=str(row["key"]),
        words=str(row["words"]),
        odds=kind_odds * float(row["share"]),  # type: ignore[arg-type]
        circuit=tuple(_change(change) for change in changes),
        block=str(row.get("block", "")),
        heat=str(row.get("heat", "")),
        signs=dict(row.get("signs", {})),  # type: ignore[call-overload]
    )


def _change(change: Mapping[str, object]) -> Change:
    if "open" in change:
        return Change("open", (str(change["open"]),))
    if "bridge" in change:
        pins = change["bridge"]
        assert isinstance(pins, list)
        return Change("bridge", tuple(map(str, pins)), amount=float(change["ohm"]))  # type: ignore[arg-type]
    if "scale" in change:
        return Change("scale", number=str(change["scale"]), amount=float(change["by"]))  # type: ignore[arg-type]
    return Change("set", number=str(change["set"]), amount=float(change["to"]))  # type: ignore[arg-type]
