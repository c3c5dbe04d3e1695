"""Blocks of a board file: parts seen as functions, with their signals, needs and numbers."""

from __future__ import annotations

from kilter.circuit.board import Block, Need
from kilter.importers.board_draft import Draft
from kilter.importers.known_names import KnownNames, nearest
from kilter.importers.toml_tables import Table
from kilter.measure.tables import table

OWN_KEYS = ("kind", "parts", "rails", "inputs", "outputs", "needs")


def read_blocks(draft: Draft) -> None:
    """Read [blocks]."""
    for name, entry in draft.file.tables("blocks"):
        kind = KnownNames("block kind", table("block_kinds")["kinds"]).find(
            entry.needed_text("kind"), draft.doing, entry.at("kind")
        )
        rails = KnownNames("rail", draft.rails)
        draft.blocks[name] = Block(
            name=name,
            kind=kind,
            parts=_parts(draft, name, entry),
            rails=tuple(rails.find(rail, draft.doing, entry.at("rails")) for rail in entry.texts("rails")),
            inputs=_ports(draft, kind, "inputs", entry),
            outputs=_ports(draft, kind, "outputs", entry),
            needs=tuple(_need(draft, row) for row in entry.rows("needs")),
            numbers=_numbers(kind, entry),
        )
        entry.done(entry.values)


def _parts(draft: Draft, name: str, entry: Table) -> tuple[str, ...]:
    """The parts named, or the part that the block is called after."""
    if "parts" in entry:
        return tuple(draft.part(ref, entry.at("parts")) for ref in entry.texts("parts"))
    same = KnownNames("part", draft.parts).get(name)
    return (same,) if same else ()


def _ports(draft: Draft, kind: str, side: str, entry: Table) -> dict[str, str]:
    """Port to signal; a port that the kind does not know is noted."""
    usual = table("block_kinds")["kinds"][kind].get(side, [])
    ports = {}
    for port, signal in entry.pairs(side).items():
        if not signal.strip():
            raise entry.bad(side, f"{port} = ''", "a signal name for each port", "Name the signal.")
        if usual != ["any"] and "any" not in usual and port not in usual:
            known = ", ".join(usual) or "none"
            words = f"a block of kind {kind} has no use for '{port}'; it knows {known}."
            draft.warnings.append(f"{entry.at(side)}: {words}")
        ports[port] = draft.signal(signal) or signal
    return ports


def _need(draft: Draft, row: Table) -> Need:
    place = row.at("point")
    word = row.needed_text("point")
    point = KnownNames("point", draft.points).get(word) or draft.find_net(word, place)
    low, high = row.needed_number("low", "V"), row.needed_number("high", "V")
    if low > high:
        raise row.bad("low", f"low {low:g} V above high {high:g} V", "low not above high", "Put the two in order.")
    row.done()
    return Need(point, low, high)


def _numbers(kind: str, entry: Table) -> dict[str, float]:
    """Every other key is a number of the block; a name near one that the kind knows is taken for a slip."""
    facts = table("block_kinds")["kinds"][kind]
    usual = {*facts.get("must", ()), *facts.get("numbers", ())}
    kinds = table("block_kinds")["kinds"].values()
    everywhere = {number for other in kinds for number in (*other.get("must", ()), *other.get("numbers", ()))}
    numbers = {}
    for key in [key for key in entry.values if key not in OWN_KEYS]:
        near = nearest(key, [*OWN_KEYS, *usual])
        if key not in everywhere and near:
            allowed = ", ".join([*OWN_KEYS, *sorted(usual)])
            raise entry.bad(key, entry.values[key], allowed, f"Did you mean '{near[0]}'?")
        numbers[key] = entry.quantity(key, entry.take(key), "")
    missing = [key for key in facts.get("must", ()) if key not in numbers]
    if missing:
        raise entry.bad(missing[0], None, f"a block of kind {kind} with {', '.join(facts['must'])}",
                        f"Add {missing[0]} to {entry.place}.")  # fmt: skip
    return numbers
