"""
XML schematics (.sch): parts and nets by the pads of their packages.

A net has one name on all sheets. A supply pin that no wire reaches is on the net of its own
name, whether its gate is drawn or not.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from kilter.importers.description import Connection, DescribedPart, Description, PartList
from kilter.importers.xml_board import drawing_of, library_of
from kilter.importers.xml_tree import Tag, read_tree
from kilter.measure.errors import BadInput


@dataclass
class _Device:
    """
    A part's device.

    Args:
        pads: (gate, pin) to the pads that are that pin.
        supply: (gate, pin) of each supply pin.
        package: Name of the package; '' for symbols that are no part.
        name: Of the device, with its technology.
    """

    pads: dict[tuple[str, str], list[str]] = field(default_factory=dict)
    supply: list[tuple[str, str]] = field(default_factory=list)
    package: str = ""
    name: str = ""


def describe_xml_schematic(text: str, file: str) -> Description:
    """
    The parts and nets of a schematic.

    Raises:
        BadInput: The text is no such file, uses modules, or a net names what is not there.
    """
    tree = read_tree(text, file)
    schematic = drawing_of(tree, "schematic", file)
    parts = PartList(file, f"Cannot read the schematic {file}")
    _refuse_modules(schematic, parts)
    libraries = {(one.get("name"), one.get("urn")): one for one in schematic.all("libraries", "library")}
    tags = {tag.get("name"): tag for tag in schematic.all("parts", "part")}
    devices = {ref: _device(tag, libraries, parts) for ref, tag in tags.items()}
    pins: dict[str, dict[str, Connection]] = {ref: {} for ref in tags}
    for net in schematic.all("sheets", "sheet", "nets", "net"):
        for pinref in net.all("segment", "pinref"):
            _connect(pinref, net.get("name"), devices, pins, parts)
    _connect_supply(devices, pins)
    for ref, tag in tags.items():
        if devices[ref].package:
            parts.add(_part(tag, devices[ref], pins[ref]))
    return Description(file, f"XML schematic, version {tree.get('version')}", "", "", parts.finished(), None,
                       tuple(parts.warnings))  # fmt: skip


def _refuse_modules(schematic: Tag, parts: PartList) -> None:
    module = next(schematic.all("sheets", "sheet", "moduleinsts", "moduleinst"), None)
    if module is not None:
        raise BadInput(parts.doing, f"the module '{module.get('name')}' at {parts.file} line {module.line}",
                       "schematics without modules", "Use the board file of the same design.")  # fmt: skip


def _device(part: Tag, libraries: dict[tuple[str, str], Tag], parts: PartList) -> _Device:
    library = libraries.get(library_of(part)) or libraries.get((part.get("library"), ""))
    sets = [] if library is None else [*library.all("devicesets", "deviceset")]
    chosen = [one for one in sets if one.get("name") == part.get("deviceset")]
    devices = [one for set_ in chosen for one in set_.all("devices", "device") if one.get("name") == part.get("device")]
    if library is None or not devices:
        raise BadInput(parts.doing, f"the device '{part.get('deviceset')}{part.get('device')}' of {part.get('name')}, "
                       f"which the file does not carry, at {parts.file} line {part.line}",
                       "schematics that carry their libraries",
                       "Save the schematic again with the program that made it.")  # fmt: skip
    device = _Device(package=devices[0].get("package"), name=_device_name(part))
    for connect in devices[0].all("connects", "connect"):
        device.pads[connect.get("gate"), connect.get("pin")] = connect.get("pad").split()
    symbols = {symbol.get("name"): symbol for symbol in library.all("symbols", "symbol")}
    for gate in chosen[0].all("gates", "gate"):
        symbol = symbols.get(gate.get("symbol"))
        for pin in symbol.all("pin") if symbol is not None else ():
            if pin.get("direction") == "pwr":
                device.supply.append((gate.get("name"), pin.get("name")))
    return device


def _device_name(part: Tag) -> str:
    """
    The name of a device: '*' stands for the technology, '?' for the variant.

    >>> _device_name(Tag("part", {"deviceset": "74*00", "technology": "LS", "device": "N"}, 1, "x"))
    '74LS00N'
    """
    name = part.get("deviceset").replace("*", part.get("technology"))
    return name.replace("?", part.get("device")) if "?" in name else name + part.get("device")


def _connect(
    pinref: Tag, net: str, devices: dict[str, _Device], pins: dict[str, dict[str, Connection]], parts: PartList
) -> None:
    ref, gate, pin = pinref.get("part"), pinref.get("gate"), pinref.get("pin")
    where = f"{parts.file} line {pinref.line}"
    if ref not in devices:
        raise BadInput(parts.doing, f"the part '{ref}' in a net but not among the parts, at {where}",
                       "nets over the listed parts", "Save the schematic again.")  # fmt: skip
    device = devices[ref]
    if device.package and (gate, pin) not in device.pads:
        parts.warnings.append(f"{where}: the pin {gate}.{pin} of {ref} has no pad and is left out.")
    for pad in device.pads.get((gate, pin), ()):
        other = pins[ref].setdefault(pad, Connection(net, _plain(pin)))
        if other.net != net:
            raise BadInput(parts.doing, f"the pin {ref}.{pad} on the nets {other.net} and {net} at {where}",
                           "each pin on one net", "Correct the schematic.")  # fmt: skip


def _connect_supply(devices: dict[str, _Device], pins: dict[str, dict[str, Connection]]) -> None:
    """Supply pins that no wire reaches."""
    for ref, device in devices.items():
        for gate, pin in device.supply:
            for pad in device.pads.get((gate, pin), ()):
                pins[ref].setdefault(pad, Connection(_plain(pin), _plain(pin)))


def _plain(pin: str) -> str:
    """A pin's name without the number that keeps equal ones apart, as GND@2."""
    return pin.split("@")[0]


def _part(tag: Tag, device: _Device, pins: dict[str, Connection]) -> DescribedPart:
    order = {pad: place for place, pad in enumerate(_all_pads(device.pads.values()))}
    ordered = dict(sorted(pins.items(), key=lambda item: order.get(item[0], 0)))
    value = tag.get("value") or device.name
    return DescribedPart(tag.get("name"), value, ordered, (device.name, device.package), tag.line, len(order))


def _all_pads(pads: Iterable[list[str]]) -> Iterator[str]:
    for several in pads:
        yield from several
