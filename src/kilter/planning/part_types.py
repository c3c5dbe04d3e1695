"""What a part is called when it is looked for on a shelf."""

from __future__ import annotations

from kilter.parts.catalogue import find_type
from kilter.records.part import Part


def part_type(part: Part) -> str:
    """
    The name under which pieces of its type are counted: what the catalogue calls a chip, else its kind and value.

    >>> part_type(Part("U1", "logic", {}, "SN74LS138N")), part_type(Part("R1", "resistor", {}, "4k7"))
    ('74LS138', 'resistor 4k7')
    >>> part_type(Part("U2", "custom", {}))
    'custom'
    """
    named = type_name(part.value)
    return named if named != " ".join(part.value.split()) else f"{part.kind} {named}".strip()


def type_name(words: str) -> str:
    """
    What somebody wrote, without maker and date where the catalogue knows the type.

    Types that the catalogue only knows as one of a group, such as regulators of any voltage, keep what was written.

    >>> type_name("DM74LS00N 8312"), type_name("MK4116-3"), type_name("resistor  4k7"), type_name("7805")
    ('74LS00', '4116', 'resistor 4k7', '7805')
    """
    plain = " ".join(words.split())
    found = find_type(words) if plain else None
    if found is None:
        return plain
    if found.key.startswith("74") and "x" not in found.key:
        return f"74{found.family}{found.key[2:]}"
    return found.key if found.key in plain.upper() else plain
