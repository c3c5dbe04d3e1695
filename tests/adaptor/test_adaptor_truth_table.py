"""
Adaptors and objects, each pair with the verdict that follows from the physics, worked out by hand in the last column.

Source of the expectations: nameplate arithmetic. A regulated output is within 5 %; an unregulated one rises to 1.3 to
1.6 times its plate without load, on a straight line, and follows the mains (UK 0.94 to 1.10 of 230 V, EU 0.90 to 1.10,
Japan 0.94 to 1.06 of 100 V, North America 0.95 to 1.05 of 120 V); a transformer's flux goes with volts per hertz.
"""

from __future__ import annotations

from dataclasses import fields, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kilter.records.power import Mains, Offered, Wanted
from kilter.safety.adaptor import CONDITION, NOTHING, REFUSED, VERDICTS, check_adaptor
from kilter.services.check_adaptor import mains_at

NEG, POS = "centre negative", "centre positive"
A = Wanted("dc", 9.0, 8.0, 12.0, 0.5, NEG, True, plug="5.5/2.1 mm", fuse="1 A T")
B = Wanted("dc", 5.0, None, None, 1.0, POS, False, plug="5.5/2.1 mm", fuse="2 A T")
C = Wanted("ac", 9.0, None, None, 1.0, None, True, plug="5.5/2.1 mm", fuse="1 A T")


def reg(volts: float, current: float, polarity: str = NEG, plate: tuple[float, float] = (100, 240),
        hertz: tuple[float, ...] = (50, 60)) -> Offered:  # fmt: skip
    return Offered("dc", volts, current, polarity, True, mains_volts=plate, mains_hertz=hertz, plug="5.5/2.1 mm")


def unreg(volts: float, current: float, polarity: str = NEG, plate: float = 230, hertz: tuple[float, ...] = (50,),
          kind: str = "dc") -> Offered:  # fmt: skip
    return Offered(kind, volts, current, polarity if kind == "dc" else None, False, mains_volts=(plate, plate),
                   mains_hertz=hertz, plug="5.5/2.1 mm")  # fmt: skip


def ac(volts: float, current: float, plate: float = 230, hertz: tuple[float, ...] = (50,)) -> Offered:
    return unreg(volts, current, plate=plate, hertz=hertz, kind="ac")


def measured(open_volts: float, loaded: float) -> Offered:
    return replace(unreg(9, 1), open_volts=open_volts, loaded_volts=loaded, loaded_current=1.0)


BRIDGED_A, BRIDGED_C = replace(A, rectifies=True), replace(C, rectifies=True)

TABLE = [
    # object, adaptor, place, verdict, why
    (A, reg(9, 1), "uk", NOTHING, "8.55 to 9.45 V within 8 to 12"),
    (A, reg(9, 1, POS), "uk", REFUSED, "reversed"),
    (A, ac(9, 1), "uk", REFUSED, "alternating into direct"),
    (A, reg(12, 1), "uk", REFUSED, "up to 12.6 V"),
    (A, reg(10, 1), "uk", NOTHING, "9.5 to 10.5 V"),
    (A, reg(6, 1), "uk", REFUSED, "6 V is under 8"),
    (A, reg(9, 0.3), "uk", REFUSED, "0.3 A for 0.5 A"),
    (A, reg(9, 0.5), "uk", NOTHING, "just enough current"),
    (A, unreg(9, 0.5), "uk", CONDITION, "8.46 to 9.9 V loaded, 15.8 V open"),
    (A, unreg(9, 1), "uk", REFUSED, "half loaded: up to 11.7 x 1.1 = 12.9 V"),
    (A, unreg(7.5, 1), "uk", CONDITION, "half loaded: 8.1 to 10.7 V; open 13.2 V"),
    (A, unreg(6, 0.5), "uk", REFUSED, "6 V is under 8"),
    (A, unreg(12, 1), "uk", REFUSED, "over"),
    (A, unreg(9, 0.5, POS), "uk", REFUSED, "reversed"),
    (A, measured(11.5, 9.2), "uk", CONDITION, "half loaded up to 11.6 V, open 12.9 V"),
    (A, measured(10.5, 9.0), "uk", NOTHING, "half loaded 9.0 to 10.9 V, open 11.8 V"),
    (A, reg(9, 1, plate=(100, 100)), "uk", REFUSED, "100 V plate on 230 V"),
    (A, reg(9, 1, plate=(117, 117), hertz=(60,)), "north_america", CONDITION, "120 V on a 117 V plate"),
    (A, reg(9, 1, plate=(120, 120), hertz=(60,)), "north_america", NOTHING, "as its plate says"),
    (A, reg(9, 1, plate=(230, 230), hertz=(50,)), "north_america", REFUSED, "230 V plate on 120 V"),
    (A, reg(9, 1, plate=(100, 100), hertz=(60,)), "japan_east", REFUSED, "60 Hz plate on 50 Hz: flux 1.2"),
    (A, reg(9, 1, plate=(100, 100)), "japan_east", NOTHING, "as its plate says"),
    (A, reg(9, 1, plate=(100, 100)), "japan_west", NOTHING, "as its plate says"),
    (A, reg(9, 1, plate=(230, 230), hertz=(50,)), "eu", NOTHING, "as its plate says"),
    (A, reg(9, 1, plate=(240, 240), hertz=(50,)), "eu", CONDITION, "230 V on a 240 V plate"),
    (A, reg(9, 1, plate=(220, 220), hertz=(50,)), "uk", CONDITION, "230 V on a 220 V plate"),
    (A, reg(9, 1, plate=(100, 100)), "north_america", REFUSED, "120 V on a 100 V plate"),
    (A, reg(9, 1, plate=(117, 117), hertz=(60,)), "japan_west", REFUSED, "100 V on a 117 V plate"),
    (A, reg(9, 1, hertz=(50,)), "north_america", CONDITION, "60 Hz is not on its plate"),
    (A, reg(9, 1, plate=(120, 120), hertz=(60,)), "uk", REFUSED, "120 V plate on 230 V"),
    (A, unreg(9, 0.5, plate=240), "uk", CONDITION, "8.1 to 9.5 V loaded; open 15.2 V; beside the plate"),
    (A, unreg(9, 0.5, plate=220), "eu", CONDITION, "8.5 to 10.4 V loaded; open 16.6 V; beside the plate"),
    (A, unreg(9, 0.5, plate=120, hertz=(60,)), "uk", REFUSED, "120 V plate on 230 V"),
    (B, reg(5, 2, POS), "uk", NOTHING, "4.75 to 5.25 V"),
    (B, unreg(5, 1, POS), "uk", REFUSED, "no regulator anywhere"),
    (B, reg(6, 2, POS), "uk", REFUSED, "over 5.25 V"),
    (B, reg(9, 2, POS), "uk", REFUSED, "over 5.25 V"),
    (B, reg(5, 2, NEG), "uk", REFUSED, "reversed"),
    (B, ac(5, 2), "uk", REFUSED, "alternating into direct"),
    (B, reg(5, 0.5, POS), "uk", REFUSED, "0.5 A for 1 A"),
    (B, reg(4.5, 2, POS), "uk", REFUSED, "under 4.75 V"),
    (C, ac(9, 1), "uk", CONDITION, "8.46 to 9.9 V loaded; open 15.8 V"),
    (C, reg(9, 1), "uk", REFUSED, "direct into a winding"),
    (C, ac(12, 1), "uk", REFUSED, "over"),
    (C, ac(6, 1), "uk", REFUSED, "under"),
    (C, ac(9, 1, 120, (60,)), "uk", REFUSED, "120 V plate on 230 V"),
    (C, ac(9, 1, 230, (60,)), "uk", REFUSED, "60 Hz plate on 50 Hz: flux 1.2"),
    (C, ac(9, 0.5), "uk", REFUSED, "0.5 A for 1 A"),
    (BRIDGED_C, reg(13, 1), "uk", CONDITION, "as 8.7 to 9.7 V alternating behind the bridge"),
    (BRIDGED_C, reg(9, 1), "uk", REFUSED, "as 6.4 V alternating: under"),
    (BRIDGED_A, reg(9, 1, POS), "uk", NOTHING, "a bridge takes either polarity"),
    (BRIDGED_A, ac(9, 0.5), "uk", REFUSED, "9.9 x 1.414 - 1.4 = 12.6 V"),
    (BRIDGED_A, ac(7.5, 0.5), "uk", CONDITION, "8.6 to 10.3 V loaded; open 17.3 V"),
    (replace(A, kind=None), reg(9, 1), "uk", REFUSED, "kind not known"),
    (replace(A, polarity=None), reg(9, 1), "uk", REFUSED, "polarity not known"),
    (replace(A, volts=None, lowest=None, highest=None), reg(9, 1), "uk", REFUSED, "volts not known"),
    (replace(A, current=None), reg(9, 1), "uk", REFUSED, "current not known"),
    (replace(A, regulates=None), reg(9, 1), "uk", CONDITION, "a regulator of its own not known"),
    (replace(A, fuse=None), reg(9, 1), "uk", CONDITION, "fuse not said"),
    (A, replace(reg(9, 1), kind=None), "uk", REFUSED, "kind not known"),
    (A, replace(reg(9, 1), polarity=None), "uk", REFUSED, "polarity not known"),
    (A, replace(reg(9, 1), regulated=None), "uk", REFUSED, "regulation not known"),
    (A, replace(reg(9, 1), current=None), "uk", REFUSED, "current not known"),
    (A, replace(reg(9, 1), mains_volts=None), "uk", REFUSED, "mains rating not known"),
    (A, replace(reg(9, 1), mains_hertz=None), "uk", REFUSED, "frequency rating not known"),
    (A, replace(reg(9, 1), plug=None), "uk", CONDITION, "plug not said"),
    (A, reg(9, 1), "", REFUSED, "place of use not known"),
]


@pytest.mark.parametrize(("wanted", "offered", "place", "verdict", "why"), TABLE)
def test_the_verdict_follows_from_the_physics(
    wanted: Wanted, offered: Offered, place: str, verdict: str, why: str
) -> None:
    mains = mains_at(place) if place else Mains()
    found = check_adaptor(wanted, offered, mains)
    assert found.verdict == verdict, (why, found.findings)


@given(row=st.sampled_from(TABLE), data=st.data())
@settings(max_examples=150, deadline=None)
def test_knowing_less_never_helps(row: tuple[Wanted, Offered, str, str, str], data: st.DataObject) -> None:
    """
    Taking a nameplate field away never makes the verdict milder, and never leaves 'nothing found'.

    Measured volts and limits that sharpen the data's default are left out: without them the default speaks.
    """
    wanted, offered, place, verdict, _ = row
    mains = mains_at(place) if place else Mains()
    which = data.draw(st.sampled_from(["wanted", "offered"]))
    plate = {"kind", "current", "polarity", "plug", "fuse", "regulated", "mains_volts", "mains_hertz"}
    names = [f.name for f in fields(Wanted if which == "wanted" else Offered) if f.name in plate]
    name = data.draw(st.sampled_from(names))
    before = wanted if which == "wanted" else offered
    if getattr(before, name) is None:
        return
    less = replace(before, **{name: None})
    found = check_adaptor(less if which == "wanted" else wanted, less if which == "offered" else offered, mains)
    matters = name != "polarity" or not (wanted.rectifies or "ac" in (wanted.kind, offered.kind))
    if matters and not (name == "kind" and verdict == REFUSED):
        assert VERDICTS.index(found.verdict) >= VERDICTS.index(verdict)
        assert found.verdict != NOTHING
