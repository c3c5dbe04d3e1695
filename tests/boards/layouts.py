"""One small board written in every board format; places and nets are known because they are made here."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import cos, radians, sin

Spot = tuple[float, float]
ORIGIN: Spot = (100.0, 80.0)
"""Corner of the outline in the file. [mm]"""
SIZE: Spot = (50.0, 40.0)


@dataclass(frozen=True)
class Fitted:
    """
    A part: place from the top left corner with y downwards, anticlockwise turn, pads as (number, offset, net).

    Offsets are those of the part when it is not turned, y downwards.
    """

    ref: str
    value: str
    at: Spot
    turn: int
    library: str
    pads: tuple[tuple[str, Spot, str], ...]


PARTS = (
    Fitted("R1", "4k7", (10, 10), 0, "R_Axial", (("1", (0, 0), "VCC"), ("2", (10, 0), "/~{RESET}"))),
    Fitted("C1", "100nF", (20, 30), 90, "C_Disc", (("1", (0, 0), "VCC"), ("2", (5, 0), "GND"))),
    Fitted("U1", "74LS14", (30, 20), 270, "DIP-14", tuple(
        (str(n), (0.0, 2.54 * (n - 1)) if n < 8 else (7.62, 2.54 * (14 - n)), net)
        for n, net in ((1, "/~{RESET}"), (2, "OUT"), (3, ""), (7, "GND"), (14, "VCC")))),
    Fitted("J1", "CONN", (5, 35), 180, "Conn_01x02", (
        ("1", (0, 0), "VCC"), ("1", (0, 1), "VCC"), ("GND", (2.54, 0), "GND"), ("GND", (2.54, 1), "GND"),
        ("3", (5.08, 0), "OUT"))),
    Fitted("TP1", "TP", (45, 5), 0, "TestPoint", (("1", (0, 0), "OUT"),)),
    Fitted("H1", "Hole", (3, 3), 0, "MountingHole", (("", (0, 0), ""),)),
    Fitted("REF**", "Hole", (47, 37), 0, "MountingHole", (("1", (0, 0), "GND"),)),
    Fitted("G***", "LOGO", (25, 38), 0, "Logo", ()),
)  # fmt: skip
NETS = ("", "GND", "VCC", "/~{RESET}", "OUT")
LONG_NAMES = {"OUT": "OUTPUT_OF_THE_INVERTER"}
"""Names that are too long for a column of IPC-D-356, for the records of another writer."""
CONNECTED = {
    "GND": {"C1.2", "U1.7", "J1.GND"}, "VCC": {"R1.1", "C1.1", "U1.14", "J1.1"}, "/~{RESET}": {"R1.2", "U1.1"},
    "OUT": {"U1.2", "J1.3", "TP1.1"},
}  # fmt: skip


def turned(part: Fitted, offset: Spot) -> Spot:
    """Where a pad is, from the top left corner, y downwards."""
    c, s = cos(radians(part.turn)), sin(radians(part.turn))
    return (part.at[0] + offset[0] * c + offset[1] * s, part.at[1] - offset[0] * s + offset[1] * c)


def sexpr(version: int) -> str:
    """The board as versions 3 to 20241229 write it; from 20250000 on nets have no number."""
    new = version >= 20200000
    q = '"' if version >= 20200000 else ""
    lines = [f"(kicad_pcb (version {version}) (generator tests)", '(title_block (title "A board") (rev B))']
    if version < 20250000:
        lines += [f'(net {number} "{name}")' for number, name in enumerate(NETS)]
    lines += [_footprint(part, version, new) for part in PARTS]
    corners = [ORIGIN, (150, 80), (150, 120), (100, 120), ORIGIN]
    for (x1, y1), (x2, y2) in pairwise(corners):
        lines.append(f"(gr_line (start {x1} {y1}) (end {x2} {y2}) (layer {q}Edge.Cuts{q}) (width 0.1))")
    lines.append(f'(gr_text "not an edge" (at 0 0) (layer {q}F.SilkS{q}))')
    return "\n".join([*lines, ")"])


def _footprint(part: Fitted, version: int, new: bool) -> str:
    x, y = ORIGIN[0] + part.at[0], ORIGIN[1] + part.at[1]
    texts = [("reference", part.ref), ("value", part.value)]
    if version >= 20230000:
        written = " ".join(f'(property "{key.title()}" "{text}" (at 0 0 0))' for key, text in texts)
    else:
        written = " ".join(f'(fp_text {key} "{text}" (at 0 0) (layer F.SilkS))' for key, text in texts)
    pads = []
    for number, (px, py), net in part.pads:
        named = f'(net "{net}")' if version >= 20250000 else f'(net {NETS.index(net)} "{net}")'
        shown = f'"{number}"' if new or not number else number
        pads.append(f"(pad {shown} thru_hole circle (at {px} {py} {part.turn}) (size 1 1) {named if net else ''})")
    layer = '"F.Cu"' if new else "F.Cu"
    return (f'({"footprint" if new else "module"} "lib:{part.library}" (layer {layer}) (at {x} {y} {part.turn}) '
            f"{written} {' '.join(pads)})")  # fmt: skip


def legacy(*, millimetres: bool) -> str:
    """The board as text from before 2013, in millimetres or in ten-thousandths of an inch."""

    def unit(number: float) -> str:
        return f"{number:.6f}" if millimetres else str(round(number / 0.00254))

    lines = ["PCBNEW-BOARD Version 2 date now", "", "$GENERAL", "encoding utf-8"]
    lines += ["Units mm"] if millimetres else []
    lines += ["$EndGENERAL"]
    for number, net in enumerate(NETS):
        lines += ["$EQUIPOT", f'Na {number} "{net}"', "St ~", "$EndEQUIPOT"]
    for part in PARTS:
        x, y = ORIGIN[0] + part.at[0], ORIGIN[1] + part.at[1]
        lines += [f"$MODULE {part.library}", f"Po {unit(x)} {unit(y)} {part.turn * 10} 15 4B000000 4B000001 ~~",
                  f"Li {part.library}", f'T0 0 0 1 1 0 0.1 N V 21 N "{part.ref}"',
                  f'T1 0 0 1 1 0 0.1 N V 21 N "{part.value}"']  # fmt: skip
        for number, (px, py), net in part.pads:
            lines += ["$PAD", f'Sh "{number}" C 1 1 0 0 {part.turn * 10}', "Dr 1 0 0", "At STD N 00E0FFFF",
                      f'Ne {NETS.index(net)} "{net}"', f"Po {unit(px)} {unit(py)}", "$EndPAD"]  # fmt: skip
        lines.append(f"$EndMODULE {part.library}")
    corners = [ORIGIN, (150, 80), (150, 120), (100, 120), ORIGIN]
    for (x1, y1), (x2, y2) in pairwise(corners):
        lines += ["$DRAWSEGMENT", f"Po 0 {unit(x1)} {unit(y1)} {unit(x2)} {unit(y2)} 1", "De 28 0 900 0 0",
                  "$EndDRAWSEGMENT"]  # fmt: skip
    return "\n".join([*lines, "$EndBOARD", ""])


def xml() -> str:
    """The board as XML; y goes upwards, a pad name occurs once, values may be left out."""
    packages, elements, nets = [], [], {net: [] for net in NETS if net}
    for part in PARTS:
        once = {number: (offset, net) for number, offset, net in part.pads}
        pads = "".join(f'<pad name="{n}" x="{o[0]}" y="{-o[1]}"/>' for n, (o, _) in once.items())
        packages.append(f'<package name="P_{part.ref}">{pads}</package>')
        x, y = ORIGIN[0] + part.at[0], 200 - ORIGIN[1] - part.at[1]
        value = "" if part.ref == "U1" else part.value
        elements.append(f'<element name="{part.ref}" library="lib" package="P_{part.ref}" value="{value}" '
                        f'x="{x}" y="{y}" rot="R{part.turn}"/>')  # fmt: skip
        for number, (_, net) in once.items():
            if net:
                nets[net].append(f'<contactref element="{part.ref}" pad="{number}"/>')
    corners = [(100, 120), (150, 120), (150, 80), (100, 80), (100, 120)]
    wires = "".join(f'<wire x1="{a[0]}" y1="{a[1]}" x2="{b[0]}" y2="{b[1]}" width="0" layer="20"/>'
                    for a, b in pairwise(corners))  # fmt: skip
    signals = "".join(f'<signal name="{net}">{"".join(refs)}</signal>' for net, refs in nets.items())
    return (f'<?xml version="1.0" encoding="utf-8"?>\n<design version="7.7.0"><drawing><board><plain>{wires}</plain>'
            f'<libraries><library name="lib"><packages>\n{chr(10).join(packages)}</packages></library></libraries>\n'
            f"<elements>{chr(10).join(elements)}</elements>\n<signals>{signals}</signals></board></drawing></design>")


def xml_schematic() -> str:
    """The schematic of R1, C1, U1, J1 and TP1; U1's supply gate is not drawn and its value is its device's name."""
    parts = [part for part in PARTS if part.ref in ("R1", "C1", "U1", "J1", "TP1")]
    symbols, sets, tags, nets = [], [], [], {net: [] for net in NETS if net}
    for part in parts:
        once = {number: net for number, _, net in part.pads}
        supply = {"7": "GND", "14": "VCC"} if part.ref == "U1" else {}
        pins = "".join(f'<pin name="{supply.get(n, "P" + n)}" direction="{"pwr" if n in supply else "pas"}"/>'
                       for n in once)  # fmt: skip
        symbols.append(f'<symbol name="S_{part.ref}">{pins}</symbol>')
        connects = "".join(f'<connect gate="G" pin="{supply.get(n, "P" + n)}" pad="{n}"/>' for n in once)
        name = "74*14" if part.ref == "U1" else f"D_{part.ref}"
        sets.append(f'<deviceset name="{name}"><gates><gate name="G" symbol="S_{part.ref}"/></gates><devices>'
                    f'<device name="" package="P_{part.ref}"><connects>{connects}</connects></device></devices>'
                    "</deviceset>")  # fmt: skip
        value = "" if part.ref == "U1" else f'value="{part.value}"'
        tags.append(f'<part name="{part.ref}" library="lib" deviceset="{name}" device="" technology="LS" {value}/>')
        for number, net in once.items():
            if net and number not in supply:
                nets[net].append(f'<pinref part="{part.ref}" gate="G" pin="P{number}"/>')
    drawn = "".join(f'<net name="{net}"><segment>{"".join(refs)}</segment></net>' for net, refs in nets.items())
    return ('<?xml version="1.0" encoding="utf-8"?>\n<design version="7.7.0"><drawing><schematic><libraries>'
            f'<library name="lib"><symbols>{"".join(symbols)}</symbols><devicesets>{"".join(sets)}</devicesets>'
            f'</library></libraries><parts>{"".join(tags)}</parts><sheets><sheet><nets>{drawn}</nets></sheet></sheets>'
            "</schematic></drawing></design>")  # fmt: skip


def records() -> str:
    """The board as IPC-D-356 records in ten-thousandths of an inch, y upwards, net names in capitals."""
    lines = ["P  CODE 00", "P  UNITS CUST 0", "P  arrayDim   N"]
    for part in PARTS:
        for number, offset, net in part.pads:
            if part.ref[0] in "RCUJT" and "*" not in part.ref:
                x, y = turned(part, offset)
                right, up = round(x / 0.00254), round((200 - y) / 0.00254)
                name = net.lstrip("/").replace("~{", "~").replace("}", "") or "N/C"
                lines.append(f"317{name:<14.14}   {part.ref:<6.6}-{number:<4.4} D0400PA00X{right:+07d}Y{up:+07d}"
                             f"X0600Y0000R{part.turn:03d}S0")  # fmt: skip
    lines.append(f"317{'GND':<14}   {'VIA':<6.6}      MD0400PA00X+001000Y+001000X0600Y0000R000S3")
    return "\n".join([*lines, "999", ""])
