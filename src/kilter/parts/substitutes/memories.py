"""Memories: organisation, pins and rails, refresh."""

from __future__ import annotations

from collections.abc import Iterator

from kilter.parts.catalogue import CatalogueType, find_type
from kilter.parts.substitutes.finding import CONDITIONS, FITS, NOT, UNKNOWN, Finding, lacking
from kilter.parts.substitutes.part_data import PartData

LISTED = 4
SUPPLY = ("supply", "ground", "other_supply")


def memory_findings(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    """What the rules of memories say."""
    yield from _size(wanted, offered, "words")
    yield from _size(wanted, offered, "bits")
    yield from _pins(wanted, offered)
    yield from _rails(wanted, offered)
    if "dynamic" in (wanted.fields.get("memory_type"), offered.fields.get("memory_type")):
        yield from _refresh(wanted, offered)
    if wanted.fields.get("memory_type") in ("mask-programmed", "erasable", "once programmable"):
        yield Finding("contents", CONDITIONS, "what it holds has to be written into the substitute",
                      "read the original first, keep its hash, compare after; never erase an original")  # fmt: skip


def with_type(part: PartData) -> PartData:
    """The part with the type of memory that its number tells, where it was not said."""
    found = _catalogue(part)
    told = {"static_ram": "static", "dynamic_ram": "dynamic"}.get(found.function if found else "")
    known = told is None or part.known("memory_type")
    return part if known else PartData(part.kind, {**part.fields, "memory_type": told})


def _catalogue(part: PartData) -> CatalogueType | None:
    return find_type(str(part.fields["number"])) if part.known("number") else None


def _organised(part: PartData, name: str) -> float | None:
    if part.known(name):
        return float(part.fields[name])
    found = _catalogue(part)
    if found is None or found.organisation is None:
        return None
    return float(found.organisation[0 if name == "words" else 1])


def _size(wanted: PartData, offered: PartData, name: str) -> Iterator[Finding]:
    want, have = _organised(wanted, name), _organised(offered, name)
    if want is None or have is None:
        yield lacking(name, "wanted" if want is None else "offered", name)
    elif have < want:
        yield Finding(name, NOT, f"wanted {want:.0f}, offered {have:.0f}", "too small")
    elif have > want:
        why = "tie the further address lines to a level" if name == "words" else "leave the further data lines alone"
        yield Finding(name, CONDITIONS, f"wanted {want:.0f}, offered {have:.0f}", why)
    else:
        yield Finding(name, FITS, f"both {want:.0f}")


def _pins(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    if wanted.of_no_matter("pinout"):
        yield Finding("pins", FITS, "'pinout' was said to be of no matter: an adapter is at hand")
        return
    if wanted.known("pinout") and offered.known("pinout"):
        same = str(wanted.fields["pinout"]).casefold() == str(offered.fields["pinout"]).casefold()
        told = f"wanted '{wanted.fields['pinout']}', offered '{offered.fields['pinout']}'"
        yield Finding("pins", FITS if same else NOT, told, "" if same else "an adapter is needed")
        return
    want, have = _catalogue(wanted), _catalogue(offered)
    if want is None or have is None or not want.pins or not have.pins or want.order_varies or have.order_varies:
        side = "offered" if want is not None and want.pins else "wanted"
        yield lacking("pins", side, "pinout", "give 'pinout', or a number that the catalogue has with its pins")
        return
    differing = different_pins(want, have)
    if not differing:
        yield Finding("pins", FITS, f"{want.key} and {have.key} have their pins at the same places")
        return
    told = ", ".join(differing[:LISTED]) + (f" and {len(differing) - LISTED} more" if len(differing) > LISTED else "")
    yield Finding("pins", NOT, f"pins differ: {told}", "an adapter, or changed wiring, is needed")


def different_pins(want: CatalogueType, have: CatalogueType) -> list[str]:
    """
    Pins of the wanted type at which the other one has something else; one that is not connected there takes anything.

    Address lines may change places among themselves, and data lines too, in a memory that is read and written in place;
    they count as different only by what they are.
    """
    found = []
    if set(want.pins) != set(have.pins):
        return [f"{len(want.pins)} pins and {len(have.pins)} pins"]
    for number, pin in want.pins.items():
        other = have.pins[number]
        powered = pin.role in SUPPLY or other.role in SUPPLY
        alike = pin.name == other.name or (not powered and pin.role == other.role)
        if not alike and other.role != "none":
            found.append(f"{number} is {pin.name} and {other.name}")
    return found


def _rails(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    if wanted.of_no_matter("rails"):
        return
    for side, part in (("wanted", wanted), ("offered", offered)):
        if not part.known("rails"):
            yield lacking("rails", side, "rails", "a missing or wrong rail can destroy a memory")
            return
    want, have = (sorted(_plain(rail) for rail in part.fields["rails"]) for part in (wanted, offered))
    told = f"wanted {', '.join(want)}, offered {', '.join(have)}"
    yield Finding("rails", FITS if want == have else NOT, told, "" if want == have else "other supply voltages")


def _plain(rail: str) -> str:
    text = rail.replace(" ", "").upper()
    return text if text[:1] in "+-" else f"+{text}"


def _refresh(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    if wanted.of_no_matter("refresh_rows"):
        return
    for side, part in (("wanted", wanted), ("offered", offered)):
        if not part.known("refresh_rows"):
            yield lacking("refresh", side, "refresh_rows", "as 128 or 256: rows that have to be visited in time")
            return
    want, have = wanted.fields["refresh_rows"], offered.fields["refresh_rows"]
    verdict = FITS if have <= want else UNKNOWN
    why = "" if have <= want else "more rows than the object may visit: see how its refresh counts"
    yield Finding("refresh", verdict, f"wanted {want:.0f} rows, offered {have:.0f}", why)
