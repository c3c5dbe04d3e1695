"""A board of sixty parts for timing: supply with fuse and capacitor, and eight transistor stages in a row."""

from __future__ import annotations

STAGES = 8
STAGE = """\
R{n}1 v12 base{n} 47k
R{n}2 base{n} 0 10k
R{n}3 v12 coll{n} 4.7k
R{n}4 emit{n} 0 1k
Q{n} coll{n} base{n} emit{n} nsmall
C{n}1 {before} base{n} 10u
C{n}2 emit{n} 0 47u
"""
HEAD = """\
Eight stages of an amplifier at twelve volts
V1 dcin 0 12
RJ1 dcin jack 0.05
RS1 jack sw 0.02
RF1 sw v12 0.15
C1 v12 0 1000u
"""
MODEL = ".model nsmall npn (is=1e-14 bf=220)\n.end\n"
BOARD = """\
kilter = 1
board = "Amplifier of eight stages"
netlist = "board.cir"

[object]
kinds = ["amplifier"]
chassis = "isolated"

[rails.V12]
net = "v12"
nominal = "12 V"
low = "11 V"
high = "13 V"

[parts]
RJ1 = { kind = "connector", position = [5, 10] }
RS1 = { kind = "switch", position = [5, 20] }
RF1 = { kind = "fuse", position = [5, 30] }
C1 = { kind = "electrolytic", position = [5, 40] }
"""
STATES = """\
[states.off]
powered = false

[states.bench]
powered = true
"""


def files() -> dict[str, bytes]:
    """The board's folder: file names to contents."""
    stages = range(1, STAGES + 1)
    netlist = HEAD + "".join(STAGE.format(n=n, before=f"coll{n - 1}" if n > 1 else "jack") for n in stages) + MODEL
    lines = [BOARD]
    for n in stages:
        lines += [f"{ref} = {{ position = [{15 * n + across}, {10 + down}] }}\n" for ref, across, down in _places(n)]
        lines += [f'C{n}{k} = {{ kind = "electrolytic", position = [{15 * n + 4 * k}, 60] }}\n' for k in (1, 2)]
    lines.append('\n[points]\nV12 = { net = "v12", label = "plus leg of C1" }\n')
    lines += [f'{name.upper()}{n} = {{ net = "{name}{n}" }}\n' for n in stages for name in ("base", "emit", "coll")]
    return {"board.toml": ("".join(lines) + "\n" + STATES).encode(), "board.cir": netlist.encode()}


def _places(n: int) -> list[tuple[str, int, int]]:
    return [(f"R{n}1", 2, 5), (f"R{n}2", 2, 30), (f"R{n}3", 8, 5), (f"R{n}4", 8, 30), (f"Q{n}", 6, 18)]
