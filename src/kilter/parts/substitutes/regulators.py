"""Regulators and resistors: kinds of construction that may stand in for one another, and headroom."""

from __future__ import annotations

from collections.abc import Iterator

from kilter.parts.substitutes.finding import CONDITIONS, FITS, NOT, Finding, lacking
from kilter.parts.substitutes.part_data import PartData, shown, special


def regulator_findings(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    """Kind of regulation, and whether the lowest input leaves enough headroom."""
    yield from _regulation(wanted, offered)
    if wanted.of_no_matter("lowest_input"):
        return
    for side, part, name in (("wanted", wanted, "lowest_input"), ("wanted", wanted, "output_volts"),
                             ("offered", offered, "dropout")):  # fmt: skip
        if not part.known(name):
            yield lacking("headroom", side, name, "lowest input at the foot of the ripple and on low mains")
            return
    room = abs(wanted.fields["lowest_input"]) - abs(wanted.fields["output_volts"])
    need = offered.fields["dropout"]
    told = f"{shown('volts', room)} left at the lowest input, {shown('volts', need)} needed"
    yield Finding("headroom", FITS if room >= need else NOT, told, "" if room >= need else "ripple comes through")


def _regulation(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    for side, part in (("wanted", wanted), ("offered", offered)):
        if side == "wanted" and part.of_no_matter("regulation"):
            return
        if not part.known("regulation"):
            yield lacking("kind of regulation", side, "regulation")
            return
    want, have = wanted.fields["regulation"], offered.fields["regulation"]
    told = f"wanted {want}, offered {have}"
    if want == have:
        yield Finding("kind of regulation", FITS, told)
        return
    verdict, why = special("regulators")[f"{want} {have}"]
    yield Finding("kind of regulation", NOT if verdict == "not" else CONDITIONS, told, why)


def resistor_findings(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    """Construction: a fusible or flameproof resistor is a safety part."""
    for side, part in (("wanted", wanted), ("offered", offered)):
        if side == "wanted" and part.of_no_matter("construction"):
            return
        if not part.known("construction"):
            yield lacking("construction", side, "construction", "a fusible or flameproof one protects against fire")
            return
    want, have = wanted.fields["construction"], offered.fields["construction"]
    good, conditional = special("construction")[want]
    told = f"wanted {want}, offered {have}"
    if have in good:
        yield Finding("construction", FITS, told)
    elif have in conditional:
        yield Finding("construction", CONDITIONS, told, "see inductance, pulse load, noise and how it behaves when it "
                      "is overloaded")  # fmt: skip
    else:
        protects = want in ("fusible", "flameproof")
        why = "it would not part, or would burn" if protects else "inductance, noise or pulse load"
        yield Finding("construction", NOT, told, why)
