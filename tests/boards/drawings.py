"""The drawings of the tests, each about a few rules that broke real files."""

from __future__ import annotations

from drawn import Below, Entry, Item, Junction, Label, Part, Sheets, Wire

LOCAL, PORT, GLOBAL = "label", "hierarchical_label", "global_label"


def turned() -> Sheets:
    """A star with three legs in all twelve ways of turning and mirroring, a label on each of four spots around it."""
    items: list[Item] = []
    cases = [(turn, mirror) for mirror in ("", "x", "y") for turn in (0, 90, 180, 270)]
    for number, (turn, mirror) in enumerate(cases, 1):
        x, y = 1000 * number, 2000
        items.append(Part("STAR", (f"Q{number}",), (x, y), turn=turn, mirror=mirror))
        for name, spot in (("N", (x, y - 200)), ("S", (x, y + 200)), ("E", (x + 200, y)), ("W", (x - 200, y))):
            items.append(Label(f"{name}{number}", spot))
    return {"turned": items}


def powered() -> Sheets:
    """
    Power: a flag on two nets, a label with a power symbol's name, hidden supply pins, a power symbol without value.

    R1 from a wire with a VCC symbol to GND; R2 from the label VCC to the label 'MID'; both nets carry the same flag.
    U1 has two drawn units and no drawn supply pins.
    """
    return {"powered": [
        Part("RES", ("R1",), (1000, 1000), "1k"), Part("VCC", ("#PWR01",), (1000, 850)),
        Part("FLAG", ("#FLG01",), (1000, 850), "PWR_FLAG"), Part("GND", ("#PWR02",), (1000, 1150)),
        Part("FLAG", ("#FLG02",), (1000, 1150), "PWR_FLAG"),
        Part("RES", ("R2",), (1500, 1000), "2k"), Label("VCC", (1500, 850)), Label("MID", (1500, 1150)),
        Part("74LS00", ("U1",), (3000, 1000), unit=1), Part("74LS00", ("U1",), (3000, 2000), unit=2),
        Label("MID", (2700, 900)), Label("~{RESET}", (2700, 1100)), Label("MID", (2700, 1900)),
        Label("~{RESET}", (2700, 2100)),
    ]}  # fmt: skip


def nameless() -> Sheets:
    """Power symbols whose value is '~' or another name than that of their pin."""
    return {"nameless": [
        Part("RES", ("R1",), (1000, 1000), "1k"), Part("GND", ("#PWR01",), (1000, 1150), "~"), Label("A", (1000, 850)),
        Part("RES", ("R2",), (2000, 1000), "1k"), Part("GND", ("#PWR02",), (2000, 1150)), Label("A", (2000, 850)),
        Part("RES", ("R3",), (3000, 1000), "1k"), Part("VCC", ("#PWR03",), (3000, 850), "+5V"),
        Label("B", (3000, 1150)), Label("B", (4000, 1150)),
        Part("RES", ("R4",), (4000, 1000), "1k"), Part("VCC", ("#PWR04",), (4000, 850)),
    ]}  # fmt: skip


def crossed() -> Sheets:
    """Wires that cross, meet at a junction, end on another without one, and a label in the middle of a wire."""
    return {"crossed": [
        Wire((1000, 1000), (2000, 1000)), Wire((1500, 500), (1500, 1500)),
        Part("RES", ("R1",), (1000, 1150), "1k"), Part("RES", ("R2",), (1500, 350), "1k"),
        Wire((3000, 1000), (4000, 1000)), Wire((3500, 500), (3500, 1500)), Junction((3500, 1000)),
        Part("RES", ("R3",), (3000, 1150), "1k"), Part("RES", ("R4",), (3500, 350), "1k"),
        Label("TAP", (3250, 1000)), Part("RES", ("R5",), (5000, 1150), "1k"), Label("TAP", (5000, 1000)),
        Label("FAR", (1000, 1300)), Label("FAR", (3500, 200)),
    ]}  # fmt: skip


def sheets() -> tuple[Sheets, dict[str, list[str]]]:
    """
    One sheet used twice, with a bus that crosses its border under another name, a port, a global name and a local one.

    The resistors of the sheet are R11 and R21 on member 0, R12 and R22 on member 1, and so on.
    """
    top: list[Item] = [
        Below("left", "part", (3000, 1000), [("D[0..1]", (3000, 1100)), ("CLK", (3000, 1300))]),
        Below("right", "part", (3000, 3000), [("D[0..1]", (3000, 3100)), ("CLK", (3000, 3300))]),
        Wire((2000, 1100), (3000, 1100), "bus"), Label("A[4..5]", (2200, 1100)),
        Wire((2000, 3100), (3000, 3100), "bus"), Label("A[4..5]", (2200, 3100)),
        Entry((1900, 1000), (100, 100)), Wire((1500, 1000), (1900, 1000)), Label("A4", (1600, 1000)),
        Part("RES", ("R1",), (1500, 1150), "1k"),
        Part("RES", ("R2",), (1000, 1150), "1k"), Label("A5", (1000, 1000)),
        Wire((2500, 1300), (3000, 1300)), Part("RES", ("R3",), (2500, 1450), "1k"),
        Wire((2500, 3300), (3000, 3300)), Part("RES", ("R4",), (2500, 3450), "1k"),
        Label("SAME", (1000, 1300)), Part("RES", ("R5",), (500, 1150), "1k"), Label("EVERYWHERE", (500, 1000), GLOBAL),
    ]
    part: list[Item] = [
        Wire((1000, 1000), (2000, 1000), "bus"), Label("D[0..1]", (1000, 1000), PORT),
        Entry((2000, 1000), (100, 100)), Wire((2100, 1100), (2500, 1100)), Label("D0", (2200, 1100)),
        Part("RES", ("R11", "R21"), (2500, 1250), "1k"),
        Part("RES", ("R12", "R22"), (3000, 1250), "1k"), Label("D1", (3000, 1100)),
        Part("RES", ("R13", "R23"), (3500, 1250), "1k"), Label("CLK", (3500, 1100), PORT),
        Part("RES", ("R14", "R24"), (4000, 1250), "1k"), Label("SAME", (4000, 1100)),
        Part("RES", ("R15", "R25"), (4500, 1250), "1k"), Label("EVERYWHERE", (4500, 1100), GLOBAL),
        Label("SAME", (4500, 1400)),
    ]
    return {"sheets": top, "part": part}, {"sheets": ["/"], "part": ["/left/", "/right/"]}
