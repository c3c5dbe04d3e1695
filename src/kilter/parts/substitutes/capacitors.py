"""Rules of capacitors that need more than one field: capacitance by use, technology, rail, dielectric, safety class."""

from __future__ import annotations

from collections.abc import Iterator

from kilter.parts.substitutes.finding import CONDITIONS, FITS, NOT, UNKNOWN, Finding, lacking
from kilter.parts.substitutes.part_data import PartData, shown, special

POLARISED = ("electrolytic", "tantalum")
MAINS = "mains suppression"
CLASSES = ("C0G", "NP0", "COG", "NPO")


def capacitor_findings(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    """What the rules of capacitors say."""
    yield from _technology(wanted, offered)
    if wanted.kind == "suppression":
        yield from safety_class(wanted, offered)
        return
    if wanted.fields.get("use") == MAINS:
        yield Finding("safety class", NOT, f"at the mains, but described as '{wanted.kind}'",
                      "describe it as kind 'suppression' with its safety class")  # fmt: skip
    yield from _capacitance(wanted, offered)
    yield from _rail(wanted, offered)
    if wanted.kind not in POLARISED:
        yield from _dielectric(wanted, offered)


def _technology(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    if wanted.kind == offered.kind:
        yield Finding("technology", FITS, f"both are '{wanted.kind}'")
        return
    known = special("technologies").get(f"{wanted.kind} {offered.kind}")
    told = f"wanted '{wanted.kind}', offered '{offered.kind}'"
    if known is None:
        yield Finding("technology", NOT, told, "no rule lets the one stand in for the other")
    else:
        verdict = {"conditions": CONDITIONS, "fits": FITS, "not": NOT}[known[0]]
        yield Finding("technology", verdict, told, known[1])


def _capacitance(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    for side, part in (("wanted", wanted), ("offered", offered)):
        if not part.known("capacitance"):
            yield lacking("capacitance", side, "capacitance")
            return
    use = wanted.fields.get("use")
    bands = special("capacitance")
    if use is None or use not in bands:
        yield Finding("capacitance", UNKNOWN, "how near it must be depends on the use, which is not said", "",
                      "wanted use")  # fmt: skip
        return
    low, high, soft_low, soft_high = bands[use]
    ratio = offered.fields["capacitance"] / wanted.fields["capacitance"]
    told = f"wanted {shown('capacitance', wanted.fields['capacitance'])}, offered " \
           f"{shown('capacitance', offered.fields['capacitance'])} ({ratio:.3g} times) for {use}"  # fmt: skip
    if not low * 0.999999 <= ratio <= high * 1.000001:
        yield Finding("capacitance", NOT, told, f"allowed {low:g} to {high:g} times")
    elif soft_low * 0.999999 <= ratio <= soft_high * 1.000001:
        yield Finding("capacitance", FITS, told)
    else:
        why = "more capacitance stresses rectifier and fuse at switch-on" if ratio > 1 else "see what it does there"
        yield Finding("capacitance", CONDITIONS, told, why)


def _rail(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    """Rated voltage against the worst rail that was measured; a tantalum needs to know it."""
    data, tantalum = special("rail"), offered.kind == "tantalum"
    if wanted.of_no_matter("rail"):
        return
    if not wanted.known("rail"):
        if tantalum:
            yield lacking("voltage and rail", "wanted", "rail", "a tantalum is rated at a multiple of the worst rail")
        return
    if not offered.known("volts"):
        yield lacking("voltage and rail", "offered", "volts")
        return
    low_impedance = wanted.fields.get("low_impedance")
    if tantalum and low_impedance is None:
        yield lacking("voltage and rail", "wanted", "low_impedance", "whether nothing limits the current into it")
        return
    key = "tantalum_low_impedance" if tantalum and low_impedance else offered.kind
    factor = float(data.get(key, data["other"]))
    rail, volts = wanted.fields["rail"], offered.fields["volts"]
    told = f"rated {shown('volts', volts)} on a rail of up to {shown('volts', rail)}; asked {factor:g} times"
    fits = volts >= factor * rail * 0.999999
    yield Finding("voltage and rail", FITS if fits else NOT, told, "" if fits else "take a higher rating")


def _dielectric(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    data = special("dielectrics")
    for side, part in (("wanted", wanted), ("offered", offered)):
        if side == "wanted" and part.of_no_matter("dielectric"):
            return
        name = part.fields.get("dielectric")
        if name is None:
            yield lacking("dielectric", side, "dielectric", "stability, loss and distortion depend on it")
            return
        if _rank(name) is None:
            told = f"nothing is known of the dielectric '{name}'"
            yield Finding("dielectric", UNKNOWN, told, "", f"{side} dielectric")
            return
    want, have = str(wanted.fields["dielectric"]), str(offered.fields["dielectric"])
    least = data["least"].get(wanted.fields.get("use"), 0)
    told = f"wanted {want}, offered {have}"
    rank, needed = _rank(have), _rank(want)
    assert rank is not None
    assert needed is not None
    if rank < least:
        yield Finding("dielectric", NOT, f"{told} for {wanted.fields['use']}", "too unstable or too lossy for this use")
    elif rank < needed:
        yield Finding("dielectric", NOT, told, "a less stable class in place of a better one")
    else:
        yield Finding("dielectric", FITS, told)


def _rank(name: object) -> int | None:
    ranks = {key.casefold(): value for key, value in special("dielectrics")["ranks"].items()}
    return ranks.get(str(name).casefold())


def safety_class(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    """Capacitors at the mains: the class decides, and only approved parts are let through (IEC 60384-14)."""
    data = special("safety")
    want, have = wanted.fields.get("safety_class"), offered.fields.get("safety_class")
    if want is None or want == "none":
        yield lacking("safety class", "wanted", "safety_class", "across the mains X, from the mains to earth Y")
    elif have is None:
        yield lacking("safety class", "offered", "safety_class")
    else:
        told = f"wanted {want}, offered {have}"
        if have in data[want]:
            yield Finding("safety class", FITS, told)
        else:
            why = "an X capacitor may fail short and must never stand where Y is asked for" if want[0] == "Y" else \
                  "another class bears less"  # fmt: skip
            yield Finding("safety class", NOT, told, why)
    if not offered.known("approved"):
        yield lacking("approval", "offered", "approved", "only parts with approval marks belong at the mains")
    elif not offered.fields["approved"]:
        yield Finding("approval", NOT, "no approval marks", "only approved parts belong at the mains")
    else:
        yield Finding("approval", CONDITIONS, "said to be approved: see the marks on the part itself",
                      "work at the mains is for licensed practice under local codes")  # fmt: skip
