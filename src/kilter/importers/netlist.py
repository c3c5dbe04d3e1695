"""S-expression netlists (.net, versions D and E): parts and nets of a board, without a circuit and without places."""

from __future__ import annotations

from collections.abc import Mapping

from kilter.importers.description import Connection, DescribedPart, Description, PartList
from kilter.importers.sexpr import Form, read_form
from kilter.measure.errors import BadInput

VERSIONS = ("D", "E")

Pins = dict[str, Connection]


def describe_netlist(text: str, file: str) -> Description:
    """
    The parts and nets of an S-expression netlist.

    Raises:
        BadInput: The text is no netlist, a reference is not annotated or used twice, a pin is on two nets.
    """
    form = read_form(text, file)
    parts = PartList(file, f"Cannot read the netlist {file}")
    if form.name != "export":
        raise BadInput(parts.doing, f"a list named '{form.name}' at {file} line {form.line}", "a netlist: (export ...",
                       "Export a netlist from the schematic and use that file.")  # fmt: skip
    version = form.word("version")
    if version not in VERSIONS:
        parts.warnings.append(f"{file} line {form.line}: version '{version}' of the netlist is not known.")
    pins = _pins(form, parts)
    components = form.form("components").forms("comp")
    for component in components:
        _add(component, pins, parts)
    _check_strangers(pins, {component.word("ref") for component in components}, parts)
    title = form.form("design").form("sheet").form("title_block")
    return Description(
        file, f"S-expression netlist, version {version}", title.word("title"), title.word("rev"), parts.finished(),
        None, tuple(parts.warnings),
    )  # fmt: skip


def _pins(form: Form, parts: PartList) -> dict[str, Pins]:
    """Reference to its pins."""
    found: dict[str, Pins] = {}
    for net in form.form("nets").forms("net"):
        name = net.word("name")
        for node in net.forms("node"):
            ref, pin = node.word("ref"), node.word("pin")
            where = f"{parts.file} line {node.line}"
            if not name or not ref or not pin:
                raise BadInput(parts.doing, f"a node without net name, reference or pin at {where}",
                               "(node (ref R1) (pin 1)) inside a named net", "Export the netlist again.")  # fmt: skip
            other = found.setdefault(ref, {}).get(pin)
            if other is not None and other.net != name:
                raise BadInput(parts.doing, f"pin {ref}.{pin} on the nets {other.net} and {name} at {where}",
                               "each pin on one net", "Correct the schematic and export again.")  # fmt: skip
            found[ref][pin] = Connection(name, node.word("pinfunction"))
    return found


def _add(component: Form, pins: Mapping[str, Pins], parts: PartList) -> None:
    """Take one component unless it is a power symbol."""
    ref = component.word("ref")
    if not ref or ref.endswith("?"):
        raise BadInput(parts.doing, f"the reference '{ref}' at {parts.file} line {component.line}",
                       "references with a number, as U5", "Annotate the schematic and export again.")  # fmt: skip
    if ref.startswith("#"):
        return
    names = (component.form("libsource").word("part"), component.word("footprint"))
    own = pins.get(ref, {})
    part = DescribedPart(ref, component.word("value"), own, tuple(filter(None, names)), component.line)
    if own:
        parts.add(part)
    else:
        parts.warnings.append(f"{parts.file} line {component.line}: {ref} has no connected pin and is left out.")


def _check_strangers(pins: Mapping[str, Pins], known: set[str], parts: PartList) -> None:
    stranger = next((ref for ref in pins if ref not in known and not ref.startswith("#")), None)
    if stranger is not None:
        raise BadInput(parts.doing, f"the reference '{stranger}' in a net but not among the components of "
                       f"{parts.file} line 1", "nets over the listed components",
                       "Export the netlist again.")  # fmt: skip
