"""States of a board file: how the object may stand while it is read."""

from __future__ import annotations

from kilter.circuit.board import State
from kilter.importers.board_draft import Draft
from kilter.importers.known_names import KnownNames
from kilter.importers.toml_tables import Table

POSITIONS = ("open", "closed")
"""What a switch can stand at."""


def read_states(draft: Draft) -> None:
    """Read [states]."""
    for name, entry in draft.file.tables("states"):
        draft.states[name] = State(
            name=name,
            powered=_powered(entry),
            supplies=_supplies(draft, entry),
            unplugged=frozenset(draft.part(ref, entry.at("unplugged")) for ref in entry.texts("unplugged")),
            lifted=frozenset(find_pin(draft, pin, entry.at("lifted")) for pin in entry.texts("lifted")),
            renewed=frozenset(draft.part(ref, entry.at("renewed")) for ref in entry.texts("renewed")),
            modes=_switches(draft, entry),
            label=entry.text("label"),
            hertz=entry.number("hertz", "Hz") or 0.0,
            offered=entry.flag("offered", default=True),
        )
        entry.done()


def _powered(entry: Table) -> bool:
    if "powered" not in entry:
        raise entry.bad("powered", None, "powered = true or powered = false", f"Add powered to {entry.place}.")
    return entry.flag("powered", default=False)


def _supplies(draft: Draft, entry: Table) -> dict[str, float]:
    sources = [element.name for element in draft.elements.values() if element.kind in "VI" and not element.part]
    found = {}
    settings = entry.table("supplies")
    for name in settings.values:
        source = KnownNames("source", sources).find(name, draft.doing, settings.place)
        unit = "V" if draft.elements[source].kind == "V" else "A"
        found[source] = settings.needed_number(name, unit)
    return found


def find_pin(draft: Draft, word: str, place: str) -> str:
    """A pin such as 'Q2.b' as it is spelled."""
    pins = [f"{part.ref}.{pin}" for part in draft.parts.values() for pin in part.pins]
    return KnownNames("pin", pins).find(word, draft.doing, place)


def _switches(draft: Draft, entry: Table) -> dict[str, str]:
    found = {}
    for name, position in entry.pairs("switches").items():
        ref = draft.part(name, entry.at("switches"))
        positions = KnownNames("switch position", POSITIONS)
        found[ref] = positions.find(position, draft.doing, f"{entry.at('switches')}.{name}")
    return found
