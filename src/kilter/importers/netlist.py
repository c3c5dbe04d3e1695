"""
S-expression netlists (.net, versions D and E): parts and nets of a board, without a circuit.

Kinds are guessed from names and references and listed as guesses; the pins of diodes, transistors, regulators and
amplifiers get the names of their kind where the symbol's pin names say which is which, all others keep their numbers.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from pathlib import Path

from kilter.circuit.board import GROUND, Board
from kilter.importers.defaults import with_defaults
from kilter.importers.guesses import kind_from_name, kind_from_reference, pins_of_kind
from kilter.importers.net_names import net_spellings
from kilter.importers.sexpr import Form, read_form
from kilter.importers.text_files import read_text
from kilter.measure.errors import BadInput
from kilter.measure.notation import read_quantity
from kilter.parts.kinds import part_kinds
from kilter.records.part import Part

VERSIONS = ("D", "E")
UNITS = {"resistor": "ohm", "capacitor": "F", "electrolytic": "F", "tantalum": "F", "inductor": "H"}
"""Unit of the printed value, for kinds that have one."""

Pins = dict[str, tuple[str, str]]
"""Pin number to (net, name of the pin in the symbol)."""


def read_netlist(path: Path | str) -> Board:
    """
    The parts and nets of an S-expression netlist.

    Raises:
        BadInput: The file cannot be read, a reference is not annotated or used twice, a pin is on two nets.
    """
    path = Path(path)
    form = read_form(read_text(path, "the netlist"), path.name)
    doing = f"Cannot read the netlist {path.name}"
    if form.name != "export":
        raise BadInput(doing, f"a list named '{form.name}' at {path.name} line {form.line}", "a netlist: (export ...",
                       "Export a netlist from the schematic and use that file.")  # fmt: skip
    warnings: list[str] = []
    if form.word("version") not in VERSIONS:
        warnings.append(f"{path.name} line {form.line}: version '{form.word('version')}' of the netlist is not known.")
    pins = _pins(form, path.name, doing, warnings)
    guesses: list[str] = []
    parts = {}
    for component in form.form("components").forms("comp"):
        part = _part(component, pins, path.name, doing, (guesses, warnings))
        if part is not None and part.ref in parts:
            raise BadInput(doing, f"the reference '{part.ref}' a second time at {path.name} line {component.line}",
                           "each reference once", "Annotate the schematic and export again.")  # fmt: skip
        if part is not None:
            parts[part.ref] = part
    _check_parts(parts, pins, path, doing)
    title = form.form("design").form("sheet").form("title_block").word("title")
    board = Board(title or path.stem, parts=parts, guesses=tuple(guesses), warnings=tuple(warnings), source=path.name)
    return with_defaults(board)


def _pins(form: Form, file: str, doing: str, warnings: list[str]) -> dict[str, Pins]:
    """Reference to its pins."""
    nets = form.form("nets").forms("net")
    spelled = net_spellings(net.word("name") for net in nets)
    if nets and GROUND not in spelled.values():
        warnings.append(f"{file}: no net is named GND; say in each point against which net it is read.")
    found: dict[str, Pins] = {}
    for net in nets:
        name = spelled[net.word("name")]
        for node in net.forms("node"):
            ref, pin = node.word("ref"), node.word("pin")
            if not name or not ref or not pin:
                raise BadInput(doing, f"a node without net name, reference or pin at {file} line {node.line}",
                               "(node (ref R1) (pin 1)) inside a named net", "Export the netlist again.")  # fmt: skip
            other = found.setdefault(ref, {}).get(pin)
            if other is not None and other[0] != name:
                raise BadInput(doing, f"pin {ref}.{pin} on the nets {other[0]} and {name} at {file} line {node.line}",
                               "each pin on one net", "Correct the schematic and export again.")  # fmt: skip
            found[ref][pin] = (name, node.word("pinfunction"))
    return found


def _part(
    component: Form, pins: Mapping[str, Pins], file: str, doing: str, notes: tuple[list[str], list[str]]
) -> Part | None:
    """One part; None for power symbols and for what has no pins."""
    guesses, warnings = notes
    ref = component.word("ref")
    if not ref or ref.endswith("?"):
        raise BadInput(doing, f"the reference '{ref}' at {file} line {component.line}",
                       "references with a number, as U5", "Annotate the schematic and export again.")  # fmt: skip
    if ref.startswith("#"):
        return None
    if ref not in pins:
        warnings.append(f"{file} line {component.line}: {ref} has no connected pin and is left out.")
        return None
    kind = _kind(component, ref, guesses)
    value = component.word("value")
    number = _number(kind, value)
    if number is None and kind in UNITS:
        warnings.append(f"{file} line {component.line}: the value '{value}' of {ref} is not understood.")
    return Part(ref, kind, _named_pins(kind, pins[ref]), value, number, notes=("kind guessed",))


def _kind(component: Form, ref: str, guesses: list[str]) -> str:
    letters = re.match(r"[A-Za-z]*", ref)
    letter = letters[0][:1] if letters else ""
    library = component.form("libsource")
    for words in (library.word("part"), component.word("value"), component.word("footprint")):
        kind = kind_from_name(words, letter) if words and letter else None
        if kind and kind in part_kinds():
            guesses.append(f"{ref} is taken as {part_kinds()[kind].words} because of the name {words}.")
            return kind
    kind = kind_from_reference(ref)
    if kind is None:
        guesses.append(f"{ref} is taken as {part_kinds()['chip'].words} because its reference tells nothing.")
        return "chip"
    guesses.append(f"{ref} is taken as {part_kinds()[kind].words} because of its reference.")
    return kind


def _number(kind: str, value: str) -> float | None:
    if kind not in UNITS:
        return None
    try:
        number = read_quantity(value, UNITS[kind]).value
    except BadInput:
        return None
    return number if 0 < number < float("inf") else None


def _named_pins(kind: str, pins: Pins) -> dict[str, str]:
    """Pin name to net: the kind's names where the symbol's names tell them, else the numbers."""
    renamed = pins_of_kind(kind, [function for _, function in pins.values()]) or {}
    wanted = part_kinds()[kind].pins
    named = {}
    for number, (net, function) in sorted(pins.items(), key=lambda item: _natural(item[0])):
        name = renamed.get(function, "")
        named[name if name in wanted else number] = net
    return {pin: named.pop(pin) for pin in wanted if pin in named} | named


def _natural(pin: str) -> tuple[int, int, str]:
    return (0, int(pin), pin) if pin.isdecimal() and len(pin) < 9 else (1, 0, pin)


def _check_parts(parts: Mapping[str, Part], pins: Mapping[str, Pins], path: Path, doing: str) -> None:
    strangers: Iterable[str] = (ref for ref in pins if ref not in parts and not ref.startswith("#"))
    stranger = next(iter(strangers), None)
    if stranger is not None:
        raise BadInput(doing, f"the reference '{stranger}' in a net but not among the components of {path.name} line 1",
                       "nets over the listed components", "Export the netlist again.")  # fmt: skip
    if not parts:
        raise BadInput(doing, f"no part with a connected pin in {path.name} line 1", "at least one part",
                       "Check that this is the netlist of the board.")  # fmt: skip
