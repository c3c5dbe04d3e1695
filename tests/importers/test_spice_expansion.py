"""Expanded netlists against ngspice: the operating point of our flat elements is that of the original text."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from ngspice_authority import node_voltages

from kilter.importers.spice import read_spice
from kilter.simulate.ngspice.names import net_of
from kilter.simulate.ngspice.netlist_text import spice_text

NETLISTS = sorted((Path(__file__).parents[1] / "netlists").glob("*.cir"))
TIGHT = ".options reltol=1e-6 vntol=1e-9 abstol=1e-14"

SCOPES = """scopes, nesting, defaults, functions
.param g=5 sh=7
.func twice(x) {x*2+sh}
.subckt inner a b r=1k
R1 a b {r*g}
.ends
.subckt outer p q k=2 t={k*200}
.param loc={k+1} g=9
X1 p m inner r={loc*1k}
X2 m q inner
R9 m q {t+twice(k)}
.model dd d(is={k*1e-14} rs=3 n=1.2)
D1 p q dd
.subckt own a b
R1 a b {k*1k}
.ends own
X3 m q own
.ends outer
V1 in 0 1
RA in a 1k
XA a 0 outer k=3
RB in b 1k
XB b 0 outer
RC in c 1k
XC c 0 outer PARAMS: k=4 t = 50
RD in d 1k
XD d gnd inner r='2*sh'
RE in e 1k
XE e 0 after
.subckt after a b zz=30
R1 a b {zz}
.ends
.op
.end
"""

JUNCTIONS = """junction resistances, areas, aliases, controlled sources
.model qn NPN (IS=2e-15 BF=150 VAF=80 RB=120 RC=4 RE=0.7 ISE=1e-14 NE=1.6 IKF=0.05)
.model qp pnp is=1e-15 bf=60 va=50 rb=50
.model dz D(BV=5.1 IBV=5m RS=6 IS=1e-14)
VP vp 0 DC 12 AC 1
VN 0 vn 12
RZ vp z 2.2k
D1 0 z dz area=2
Q1 vp z e1 qn 2
RE1 e1 vn 10k
Q2 c2 e1 vp qp
+ area = 3
RC2 c2 0
* a comment inside a continuation
+ 1k
VS s 0 0
RS c2 s {4.7k} ; trailing
F1 0 f VS 2
RF f 0 1k $ trailing
H1 h 0 VS 100
RH h 0 1k
E1 ee 0 c2 0 0.5
RE2 ee g 1k
G1 g 0 f 0 1m
RG g 0 10k
I1 0 i SIN(1m 1 1k)
RI i 0 1k
V3 w 0 PULSE(2 5 1n 1n 1n 1u 2u)
RW w 0 1k
.op
.end
"""

DEFAULTS = """models without parameters
V1 a 0 1
R1 a b 1k
D1 b 0 d
R2 a c 1k
R3 a d 100k
Q1 c d 0 q
.model d d
.model q npn
.op
.end
"""


def assert_same_operating_point(text: str, path: Path) -> None:
    theirs = node_voltages(re.sub(r"(?im)^\.end\s*$", f"{TIGHT}\n.end", text))
    flat = node_voltages(spice_text(read_spice(path).elements.values()))
    ours = {net_of(node).lower(): volts for node, volts in flat.items()}
    # A call XU1 is U1 here and xu1 there; ngspice gives the inside of junction resistances names of its own.
    shared = [(re.sub(r"^x(?=[a-z])", "", node), volts) for node, volts in theirs.items() if "#" not in node]
    compared = [(node, volts, ours[node]) for node, volts in shared if node in ours]
    assert len(compared) >= 0.9 * len(shared)
    assert len(compared) > 3
    for node, volts, own in compared:
        assert own == pytest.approx(volts, rel=1e-6, abs=1e-8), node  # the solver's tolerances, V


@pytest.mark.ngspice
@pytest.mark.parametrize("path", NETLISTS, ids=lambda path: path.stem)
def test_netlists_of_the_trade(path: Path) -> None:
    assert_same_operating_point(path.read_text(), path)


@pytest.mark.ngspice
@pytest.mark.parametrize("text", [SCOPES, JUNCTIONS], ids=["scopes", "junctions"])
def test_dialect(text: str, tmp_path: Path) -> None:
    path = tmp_path / "dialect.cir"
    path.write_text(text)
    assert_same_operating_point(text, path)


@pytest.mark.ngspice
def test_defaults_filled_in_are_those_of_spice(tmp_path: Path) -> None:
    """Models without parameters: were a default wrong, the junction voltages would be."""
    path = tmp_path / "defaults.cir"
    path.write_text(DEFAULTS)
    assert_same_operating_point(DEFAULTS, path)
