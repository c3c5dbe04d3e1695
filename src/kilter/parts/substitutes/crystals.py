"""Crystals: what another load capacitance does to the frequency."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from kilter.parts.substitutes.finding import CONDITIONS, FITS, NOT, Finding, lacking
from kilter.parts.substitutes.part_data import PartData, shown

PPM = 1e6
EXACT = 1e-3
"""Load capacitances that differ by less than this share are the same."""


def pulled_ppm(motional: float, shunt: float, made_for: float, used_with: float) -> float:
    """
    How far a crystal runs from its nominal frequency when its load is not the one that it was made for.

    Args:
        motional: C1. [F]
        shunt: C0. [F]
        made_for: Load capacitance of its nominal frequency; infinity for series resonance. [F]
        used_with: Load capacitance in the circuit; infinity for series resonance. [F]

    Returns:
        Change of frequency, in millionths; above zero where it runs fast.

    Source: equivalent circuit of a crystal with C1 far below C0 + CL, first order (IEC 60122-1); tests compare it with
    the resonance of the whole circuit.

    >>> round(pulled_ppm(20e-15, 5e-12, 20e-12, 15e-12), 1)
    100.0
    """
    return PPM * motional / 2 * (1 / (shunt + used_with) - 1 / (shunt + made_for))


def crystal_findings(wanted: PartData, offered: PartData) -> Iterator[Finding]:
    """What the load says."""
    if wanted.of_no_matter("load"):
        return
    for side, part in (("wanted", wanted), ("offered", offered)):
        if not part.known("load"):
            yield lacking("load", side, "load", "in farad; 'series' for series resonance")
            return
    want, have = _load(wanted), _load(offered)
    told = f"made for {_words(have)}, used with {_words(want)}"
    if want == have or (inf not in (want, have) and abs(have / want - 1) < EXACT):
        yield Finding("load", FITS, told)
        return
    for name in ("motional", "shunt"):
        if not offered.known(name):
            yield lacking("load", "offered", name, "to work out how far another load pulls it")
            return
    if not wanted.known("allowed_ppm"):
        yield lacking("load", "wanted", "allowed_ppm", "how far the frequency may be off")
        return
    off = pulled_ppm(offered.fields["motional"], offered.fields["shunt"], have, want)
    told = f"{told}: runs {off:+.0f} ppm off"
    if abs(off) <= wanted.fields["allowed_ppm"]:
        yield Finding("load", CONDITIONS, told, "within what is allowed; trim the load capacitors if the circuit can")
    else:
        yield Finding("load", NOT, told, f"allowed {wanted.fields['allowed_ppm']:g} ppm")


def _load(part: PartData) -> float:
    value = part.fields["load"]
    return inf if value == "series" else float(value)


def _words(load: float) -> str:
    return "series resonance" if load == inf else shown("load", load)
