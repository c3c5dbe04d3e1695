"""Parts of a board file: what it adds to the netlist's parts, new parts, and the loads of chips."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from kilter.circuit.board import Element
from kilter.importers.board_draft import Draft
from kilter.importers.guesses import kind_from_reference
from kilter.importers.known_names import KnownNames
from kilter.importers.toml_tables import Table
from kilter.measure.errors import BadInput
from kilter.measure.tables import table
from kilter.parts.kinds import modes_of, part_kinds
from kilter.records.part import Part

VALUE_UNITS = {"R": "ohm", "C": "F", "L": "H"}
"""Unit of the value of a part that is one such element."""
LIMIT_UNITS = {"watts": "W", "volts": "V", "amps": "A"}
"""What a part may bear at most."""


def read_parts(draft: Draft) -> None:
    """Read [parts]: corrections to parts of the netlist, and parts that it lacks."""
    known = KnownNames("part", draft.parts)
    for name, entry in draft.file.tables("parts"):
        ref = known.get(name)
        part = _corrected(draft, draft.parts[ref], entry) if ref else _new(draft, name, entry)
        draft.parts[part.ref] = part
        _tolerance_to_elements(draft, part)
        entry.done(("value", "pins"))


def add_block_parts(draft: Draft) -> None:
    """Without a netlist a block may name parts that nothing else does; their kind is told by their reference."""
    if draft.has_netlist:
        return
    for _, block in draft.file.tables("blocks"):
        for ref in block.texts("parts"):
            if KnownNames("part", draft.parts).get(ref) is None:
                draft.parts[ref] = Part(ref, _kind_of(draft, ref, block.at("parts")), {}, notes=("kind guessed",))


def add_loads(draft: Draft) -> None:
    """Read `draws`: the supply current of a chip becomes a resistor between its pins vcc and gnd."""
    for name, entry in draft.file.tables("parts"):
        amperes = entry.number("draws", "A")
        if amperes is None:
            continue
        if amperes <= 0:
            raise entry.bad("draws", entry.values["draws"], "a current above 0", "Correct the current.")
        ref = draft.part(name, entry.place)
        if not draft.netlist.elements:
            draft.warnings.append(f"{entry.place}: draws is not used, because the board has no circuit.")
            continue
        load = _load(draft, draft.parts[ref], amperes, entry)
        draft.elements[load.name] = load


def _corrected(draft: Draft, part: Part, entry: Table) -> Part:
    kind = _kind(entry, part.kind)
    if "kind" in entry:
        draft.guesses = [guess for guess in draft.guesses if not guess.startswith(f"{part.ref} is taken as ")]
    pins = _renamed_pins(draft, part, entry) if "pins" in entry else part.pins
    notes = tuple(note for note in part.notes if "kind" not in entry or note != "kind guessed")
    part = replace(part, kind=kind, pins=pins, notes=notes)
    if "value" in entry:
        part = _revalued(draft, part, entry)
    return _described(part, entry)


def _new(draft: Draft, ref: str, entry: Table) -> Part:
    kind = _kind(entry, "") or _kind_of(draft, ref, entry.at("kind"))
    uses = draft.pin_uses()
    pins = {pin: _new_pin_net(draft, net, uses, entry) for pin, net in entry.pairs("pins").items()}
    notes = () if "kind" in entry else ("kind guessed",)
    return _described(Part(ref, kind, pins, entry.text("value"), notes=notes), entry)


def _described(part: Part, entry: Table) -> Part:
    entry.take("draws")
    part = replace(part, drifts=_drifts(part, entry))
    return replace(
        part,
        number=_values(part, entry),
        tolerance=entry.share("tolerance", part.tolerance),
        position=position_of(entry) or part.position,
        socketed=entry.flag("socketed", default=part.socketed),
        original=entry.flag("original", default=part.original),
        notes=part.notes + entry.texts("notes"),
        limits={**part.limits, **_limits(entry)},
    )


def _limits(entry: Table) -> dict[str, float]:
    """What the part bears at most, by the words of LIMIT_UNITS."""
    if "limits" not in entry:
        return {}
    inner = entry.table("limits")
    found = {key: inner.needed_number(key, unit) for key, unit in LIMIT_UNITS.items() if key in inner}
    inner.done()
    for key, value in found.items():
        if value <= 0:
            raise entry.bad("limits", f"{key} {value:g}", "limits above 0", "Write what is printed on the part.")
    return found


def _values(part: Part, entry: Table) -> float | None:
    """The number of a part; of a unit with one failure mode for each value its value says how many there are."""
    text = entry.text("value")
    if not part_kinds()[part.kind].each_value or not text:
        return part.number
    number = entry.quantity("value", text, "")
    modes_of(replace(part, number=number))
    return number


def _drifts(part: Part, entry: Table) -> tuple[float, ...]:
    """The sizes of drift that the writer expects of a part."""
    value = entry.take("drifts")
    if value is None:
        return part.drifts
    if not isinstance(value, list):
        raise entry.bad("drifts", value, "a list of factors on the part's value", 'Write drifts = [0.82, "118 %"].')
    factors = tuple(entry.quantity("drifts", one, "") for one in value)
    modes_of(replace(part, drifts=factors))
    return factors


def position_of(entry: Table) -> tuple[float, float] | None:
    """The position of a part or point. [mm]"""
    value = entry.take("position")
    if value is None:
        return None
    if not (isinstance(value, list) and len(value) == 2):
        raise entry.bad("position", value, "two numbers in millimetres, [x, y]", "Write position = [42.0, 18.5].")
    x, y = (entry.quantity("position", one, "") for one in value)
    return (x, y)


def _kind(entry: Table, default: str) -> str:
    kind = entry.text("kind", default) or default
    return KnownNames("part kind", part_kinds()).find(kind, entry.doing, entry.at("kind")) if kind else ""


def _kind_of(draft: Draft, ref: str, place: str) -> str:
    kind = kind_from_reference(ref)
    if kind is None:
        raise BadInput(
            draft.doing, f"the part '{ref}' without a kind at {place}", ", ".join(sorted(part_kinds())),
            f'Add [parts.{ref}] with kind = "...".',
        )  # fmt: skip
    draft.guesses.append(f"{ref} is taken as {part_kinds()[kind].words} because of its reference.")
    return kind


def _renamed_pins(draft: Draft, part: Part, entry: Table) -> dict[str, str]:
    """New pin names for a part of the netlist: they must name the nets that the netlist gives it."""
    pins = {pin: draft.find_net(net, entry.at("pins")) for pin, net in entry.pairs("pins").items()}
    if Counter(pins.values()) != Counter(part.pins.values()):
        nets = ", ".join(part.pins.values())
        raise entry.bad("pins", dict(pins), f"the nets that the netlist gives {part.ref}: {nets}",
                        "Pins can be renamed here, not rewired; correct the netlist for that.")  # fmt: skip
    return pins


def _new_pin_net(draft: Draft, name: str, uses: Counter[str], entry: Table) -> str:
    """A net of the netlist, a rail's net, or a net of its own that a signal or another pin names too."""
    known = draft.net_if_known(name)
    if known is not None:
        return known
    if not draft.has_netlist or draft.signal(name) or uses[name.lower()] > 1:
        return draft.signal(name) or name
    return draft.find_net(name, entry.at("pins"))


def _revalued(draft: Draft, part: Part, entry: Table) -> Part:
    """A value that corrects the netlist's; it also corrects the one element of an R, C or L."""
    text = entry.text("value")
    own = [element for element in draft.elements.values() if element.part == part.ref]
    if len(own) != 1 or own[0].kind not in VALUE_UNITS:
        return replace(part, value=text)
    number = entry.quantity("value", text, VALUE_UNITS[own[0].kind])
    if number <= 0:
        raise entry.bad("value", text, "a value above 0", "Correct the value.")
    draft.elements[own[0].name] = replace(own[0], value=number)
    return replace(part, value=text, number=number)


def _tolerance_to_elements(draft: Draft, part: Part) -> None:
    if part.tolerance is None:
        return
    for element in draft.elements.values():
        if element.part == part.ref and element.kind in VALUE_UNITS and element.tolerance is None:
            draft.elements[element.name] = replace(element, tolerance=part.tolerance)


def _load(draft: Draft, part: Part, amperes: float, entry: Table) -> Element:
    pins = KnownNames("pin", part.pins)
    vcc, gnd = (part.pins[pins.find(pin, draft.doing, entry.at("draws"))] for pin in ("vcc", "gnd"))
    rails = [rail for rail in draft.rails.values() if rail.net == vcc]
    if not rails or not rails[0].nominal:
        raise entry.bad("draws", entry.values["draws"], f"draws on a part whose pin vcc ({vcc}) is on a declared rail",
                        "Add the rail to [rails].")  # fmt: skip
    ohm = abs(rails[0].nominal) / amperes
    spread = float(table("guesses")["load"]["tolerance"])
    return Element(f"R_{part.ref}.load", "R", (vcc, gnd), ohm, part=part.ref, tolerance=spread)


