"""
What chips with storage do, as small models in numbers, written from the general description of each function.

A model is told the driven pins of one step and of the step before, and keeps a number as its state; it says the state
after the step and what output pins then show. Source: what the functions are called in any handbook (register, latch,
counter, shift register); pin names from memory. The state begins unknown, so each model names the pins that set it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

Pins = dict[str, int]


@dataclass
class Model:
    """
    Args:
        after: (state, now, before) to the new state.
        shows: (state, now) to output pins; 2 for let go.
        known: Pins that bring it to a known state, and that state.
        still: Input pins that are kept at a value all along.
        clocked_setting: Clock that must rise (with '-': fall) to set it; 'words' for four words written one by one.
        steady: Pins that move only while every clock is low.
    """

    after: Callable[[int, Pins, Pins], int]
    shows: Callable[[int, Pins], Pins]
    known: Pins
    state: int = 0
    still: Pins | None = None
    clocked_setting: str = ""
    steady: tuple[str, ...] = ()


def rises(now: Pins, before: Pins, pin: str) -> bool:
    return bool(now[pin] and not before[pin])


def falls(now: Pins, before: Pins, pin: str) -> bool:
    return bool(before[pin] and not now[pin])


def word(pins: Pins, names: list[str]) -> int:
    return sum(pins[name] << place for place, name in enumerate(names))


def spread(value: int, names: list[str]) -> Pins:
    return {name: (value >> place) & 1 for place, name in enumerate(names)}


ABCD, Q4 = list("ABCD"), ["QA", "QB", "QC", "QD"]


def register(data: list[str], outputs: list[str], *, clear: str = "", hold: str = "", release: tuple[str, ...] = (),
             clock: str = "CLK") -> Model:  # fmt: skip
    """A word taken at the rising clock. clear, hold: as pin, '/pin' being active low; release: active-low enables."""

    def active(pin: str, now: Pins) -> bool:
        return bool(pin) and now[pin] == (0 if pin.startswith("/") else 1)

    def after(state: int, now: Pins, before: Pins) -> int:
        if active(clear, now):
            return 0
        held = bool(hold) and any(now[pin] for pin in hold.split())
        return word(now, data) if rises(now, before, clock) and not held else state

    def shows(state: int, now: Pins) -> Pins:
        off = any(now[pin] for pin in release)
        return dict.fromkeys(outputs, 2) if off else spread(state, outputs)

    known = {clear: 0 if clear.startswith("/") else 1} if clear else dict.fromkeys([*data, *hold.split()], 0)
    return Model(after, shows, known, clocked_setting="" if clear else clock)


def transparent(data: list[str], outputs: list[str]) -> Model:
    return Model(
        lambda state, now, _: word(now, data) if now["LE"] else state,
        lambda state, now: dict.fromkeys(outputs, 2) if now["/OE"] else spread(state, outputs),
        {"LE": 1, **dict.fromkeys(data, 0)},
    )


def jk(unit: str, *, clear: bool = True, preset: bool = False, k_low: bool = False, rising: bool = False,
       high: bool = False) -> Model:  # fmt: skip
    """One JK flip-flop. high: clear and preset are 'R' and 'S', active high."""
    clock, j, k = f"{unit}CLK", f"{unit}J", f"/{unit}K" if k_low else f"{unit}K"
    c = f"{unit}R" if high else f"/{unit}CLR"
    p = f"{unit}S" if high else f"/{unit}PRE"
    on = 1 if high else 0

    def after(state: int, now: Pins, before: Pins) -> int:
        if clear and now[c] == on:
            return 0
        if preset and now[p] == on:
            return 1
        edge = rises(now, before, clock) if rising else falls(now, before, clock)
        if not edge:
            return state
        kill = 1 - now[k] if k_low else now[k]
        return {(0, 0): state, (1, 0): 1, (0, 1): 0, (1, 1): 1 - state}[now[j], kill]

    known, state = ({c: on}, 0) if clear else ({p: on}, 1)
    if clear and preset:
        known[p] = 1 - on
    return Model(after, lambda state, _: {f"{unit}Q": state, f"/{unit}Q": 1 - state}, known, state)


def d_flip_flop(unit: str, *, high: bool) -> Model:
    c, p, on = (f"{unit}R", f"{unit}S", 1) if high else (f"/{unit}CLR", f"/{unit}PRE", 0)

    def after(state: int, now: Pins, before: Pins) -> int:
        if now[c] == on:
            return 0
        if now[p] == on:
            return 1
        return now[f"{unit}D"] if rises(now, before, f"{unit}CLK") else state

    return Model(after, lambda state, _: {f"{unit}Q": state, f"/{unit}Q": 1 - state}, {c: on, p: 1 - on})


def ripple(bits: list[tuple[str, int]], *, clock: str, clear: str, stages: int) -> Model:
    """A binary counter of falling edges; `bits` is which stage shows on which pin, the first stage being 1."""
    return Model(
        lambda state, now, before: 0 if now[clear] else (state + falls(now, before, clock)) % 2**stages,
        lambda state, _: {name: (state >> (stage - 1)) & 1 for name, stage in bits},
        {clear: 1},
    )


def counter_16x(size: int, *, direct: bool) -> Model:
    """Counters with clocked load; RCO while all is at the last count and ENT is high."""

    def after(state: int, now: Pins, before: Pins) -> int:
        if direct and not now["/CLR"]:
            return 0
        if not rises(now, before, "CLK"):
            return state
        if not now["/CLR"]:
            return 0
        if not now["/LOAD"]:
            return word(now, ABCD) % size
        return (state + 1) % size if now["ENP"] and now["ENT"] else state

    return Model(
        after,
        lambda state, now: spread(state, Q4) | {"RCO": int(now["ENT"] and state == size - 1)},
        {"/CLR": 0},
        still={"D": 0} if size == 10 else None,
        clocked_setting="" if direct else "CLK",
    )


def up_down_169(state: int, now: Pins, before: Pins) -> int:
    if not rises(now, before, "CLK"):
        return state
    if not now["/LOAD"]:
        return word(now, ABCD)
    return (state + (1 if now["UD"] else -1)) % 16 if not now["/ENP"] and not now["/ENT"] else state


def up_down_191(state: int, now: Pins, before: Pins) -> int:
    if not now["/LOAD"]:
        return word(now, ABCD)
    return (state + (-1 if now["DU"] else 1)) % 16 if rises(now, before, "CLK") and not now["/CTEN"] else state


def decade_90(state: int, now: Pins, before: Pins) -> int:
    """Two counters: the lowest bit by two, the upper three by five, QA not joined to CKB."""
    if now["R91"] and now["R92"]:
        return 9
    if now["R01"] and now["R02"]:
        return 0
    low, high = state & 1, state >> 1
    return (low ^ falls(now, before, "CKA")) | ((high + falls(now, before, "CKB")) % 5) << 1


def twelve_92(state: int, now: Pins, before: Pins) -> int:
    """By two, and by six as three states of QB and QC times two of QD."""
    if now["R01"] and now["R02"]:
        return 0
    low, high = state % 2, state // 2
    return (low ^ falls(now, before, "CKA")) + 2 * ((high + falls(now, before, "CKB")) % 6)


def johnson(size: int) -> Model:
    def after(state: int, now: Pins, before: Pins) -> int:
        ran, runs = before["CLK"] and not before["/CE"], now["CLK"] and not now["/CE"]
        return 0 if now["R"] else (state + (1 if runs and not ran else 0)) % size

    return Model(
        after,
        lambda state, _: {f"Q{place}": int(state == place) for place in range(size)} | {"CO": int(state < size // 2)},
        {"R": 1},
    )


def dual_four(unit: str, size: int) -> Model:
    def after(state: int, now: Pins, before: Pins) -> int:
        was, runs = (pins[f"{unit}CLK"] and pins[f"{unit}EN"] for pins in (before, now))
        return 0 if now[f"{unit}R"] else (state + (1 if runs and not was else 0)) % size

    return Model(after, lambda state, _: spread(state, [f"{unit}Q{place}" for place in range(1, 5)]), {f"{unit}R": 1})


def two_counters(low: str, high: str, clear: list[str], first: str, rest: list[str], size: int) -> Model:
    """One stage by two and a counter of `size` beside it, with one clear for both."""

    def after(state: int, now: Pins, before: Pins) -> int:
        if all(now[pin] for pin in clear):
            return 0
        a, b = state & 1, state >> 1
        return (a ^ falls(now, before, low)) | ((b + falls(now, before, high)) % size) << 1

    return Model(after, lambda s, _: {first: s & 1} | spread(s >> 1, rest), dict.fromkeys(clear, 1))


def shift_595(state: int, now: Pins, before: Pins) -> int:
    """Shift stages in the low byte, output stages in the high one; both clocks at once copy what was there before."""
    low, high = state & 255, state >> 8
    if rises(now, before, "RCLK"):
        high = low
    if not now["/SRCLR"]:
        low = 0
    elif rises(now, before, "SRCLK"):
        low = (low << 1 | now["SER"]) & 255
    return low | high << 8


def shows_595(state: int, now: Pins) -> Pins:
    high = dict.fromkeys(SHIFT_8, 2) if now["/G"] else spread(state >> 8, SHIFT_8)
    return high | {"QHS": state >> 7 & 1}


def shift_4021(state: int, now: Pins, before: Pins) -> int:
    if now["PS"]:
        return word(now, [f"P{place}" for place in range(1, 9)])
    return (state << 1 | now["SER"]) & 255 if rises(now, before, "CLK") else state


def shift_4015(unit: str) -> Model:
    def after(state: int, now: Pins, before: Pins) -> int:
        if now[f"{unit}R"]:
            return 0
        return (state << 1 | now[f"{unit}D"]) & 15 if rises(now, before, f"{unit}CLK") else state

    return Model(after, lambda s, _: spread(s, [f"{unit}Q{place}" for place in range(1, 5)]), {f"{unit}R": 1})


def stored_selector(state: int, now: Pins, before: Pins) -> int:
    return word(now, [f"{x}{2 if now['WS'] else 1}" for x in ABCD]) if falls(now, before, "CLK") else state


def pair_of_latches(gate: str, units: str) -> Model:
    return Model(
        lambda s, now, _: word(now, [f"{u}D" for u in units]) if now[gate] else s,
        lambda s, _: spread(s, [f"{u}Q" for u in units]) | spread(3 - s, [f"/{u}Q" for u in units]),
        {gate: 1, **{f"{u}D": 0 for u in units}},
    )


SHIFT_8 = [f"Q{letter}" for letter in "ABCDEFGH"]


def shift_164(state: int, now: Pins, before: Pins) -> int:
    if not now["/CLR"]:
        return 0
    return (state << 1 | (now["A"] & now["B"])) & 255 if rises(now, before, "CLK") else state


def shift_165(state: int, now: Pins, before: Pins) -> int:
    if not now["SHLD"]:
        return word(now, list("ABCDEFGH"))
    was, runs = (pins["CLK"] or pins["INH"] for pins in (before, now))
    return (state << 1 | now["SER"]) & 255 if runs and not was else state


def shift_166(state: int, now: Pins, before: Pins) -> int:
    if not now["/CLR"]:
        return 0
    was, runs = (pins["CLK"] or pins["INH"] for pins in (before, now))
    if not runs or was:
        return state
    return (state << 1 | now["SER"]) & 255 if now["SHLD"] else word(now, list("ABCDEFGH"))


def shift_194(state: int, now: Pins, before: Pins) -> int:
    if not now["/CLR"]:
        return 0
    if not rises(now, before, "CLK"):
        return state
    mode = now["S1"] * 2 + now["S0"]
    right, left = (state << 1 | now["SR"]) & 15, state >> 1 | now["SL"] << 3
    return [state, right, left, word(now, ABCD)][mode]


def shift_195(state: int, now: Pins, before: Pins) -> int:
    if not now["/CLR"]:
        return 0
    if not rises(now, before, "CLK"):
        return state
    if not now["SHLD"]:
        return word(now, ABCD)
    first = {(0, 0): 0, (1, 1): 1, (0, 1): state & 1, (1, 0): 1 - (state & 1)}[now["J"], now["/K"]]
    return (state << 1 | first) & 15


def shift_95(state: int, now: Pins, before: Pins) -> int:
    if now["MODE"]:
        return word(now, ABCD) if falls(now, before, "CLK2") else state
    return (state << 1 | now["SER"]) & 15 if falls(now, before, "CLK1") else state


def addressable(state: int, now: Pins, _: Pins) -> int:
    place = word(now, ["S0", "S1", "S2"])
    kept = state if now["/CLR"] else 0
    return kept if now["/G"] else kept & ~(1 << place) | now["D"] << place


def register_file(state: int, now: Pins, _: Pins) -> int:
    if now["/GW"]:
        return state
    place = 4 * word(now, ["WA", "WB"])
    return state & ~(15 << place) | word(now, ["D1", "D2", "D3", "D4"]) << place


def file_shows(state: int, now: Pins) -> Pins:
    read = state >> 4 * word(now, ["RA", "RB"]) & 15
    return {f"Q{place}": 2 if now["/GR"] else (read >> place - 1) & 1 for place in range(1, 5)}


def eight(*, q: str = "{}Q", d: str = "{}D", count: int = 8) -> tuple[list[str], list[str]]:
    return [d.format(place) for place in range(1, count + 1)], [q.format(place) for place in range(1, count + 1)]


MODELS: dict[str, list[Model]] = {
    "7473": [jk("1"), jk("2")],
    "7474": [d_flip_flop("1", high=False), d_flip_flop("2", high=False)],
    "7476": [jk("1", preset=True), jk("2", preset=True)],
    "7490": [Model(decade_90, lambda s, _: spread(s & 1 | s & 14, Q4), {"R01": 1, "R02": 1, "R91": 0})],
    "7492": [
        Model(
            twelve_92,
            lambda s, _: {"QA": s % 2, "QB": int(s // 2 % 3 == 1), "QC": int(s // 2 % 3 == 2), "QD": s // 6},
            {"R01": 1, "R02": 1},
        )
    ],
    "7495": [
        Model(
            shift_95,
            lambda s, _: spread(s, Q4),
            {"MODE": 1, "A": 0, "B": 0, "C": 0, "D": 0},
            clocked_setting="-CLK2",
            steady=("MODE",),
        )
    ],
    "74107": [jk("1"), jk("2")],
    "74109": [jk(u, preset=True, k_low=True, rising=True) for u in "12"],
    "74112": [jk(u, preset=True) for u in "12"],
    "74113": [jk(u, clear=False, preset=True) for u in "12"],
    "74160": [counter_16x(10, direct=True)],
    "74161": [counter_16x(16, direct=True)],
    "74162": [counter_16x(10, direct=False)],
    "74163": [counter_16x(16, direct=False)],
    "74164": [Model(shift_164, lambda s, _: spread(s, SHIFT_8), {"/CLR": 0})],
    "74165": [
        Model(shift_165, lambda s, _: {"QH": s >> 7, "/QH": 1 - (s >> 7)}, {"SHLD": 0, **dict.fromkeys("ABCDEFGH", 0)})
    ],
    "74166": [Model(shift_166, lambda s, _: {"QH": s >> 7}, {"/CLR": 0})],
    "74169": [
        Model(
            up_down_169,
            lambda s, now: spread(s, Q4) | {"/RCO": int(bool(now["/ENT"] or s != (15 if now["UD"] else 0)))},
            {"/LOAD": 0, **dict.fromkeys(ABCD, 0)},
            clocked_setting="CLK",
        )
    ],
    "74173": [register(*eight(count=4), clear="CLR", hold="/G1 /G2", release=("/M", "/N"))],
    "74174": [register(*eight(count=6), clear="/CLR")],
    "74175": [register(*eight(count=4), clear="/CLR")],
    "74191": [
        Model(
            up_down_191,
            lambda s, now: spread(s, Q4) | {"MAXMIN": int(s == (0 if now["DU"] else 15))},
            {"/LOAD": 0, **dict.fromkeys(ABCD, 0)},
        )
    ],
    "74194": [Model(shift_194, lambda s, _: spread(s, Q4), {"/CLR": 0})],
    "74195": [Model(shift_195, lambda s, _: spread(s, Q4) | {"/QD": 1 - (s >> 3)}, {"/CLR": 0})],
    "74259": [Model(addressable, lambda s, _: spread(s, [f"Q{place}" for place in range(8)]), {"/CLR": 0, "/G": 1})],
    "74273": [register(*eight(), clear="/CLR")],
    "74373": [transparent(*eight())],
    "74374": [register(*eight(), release=("/OE",))],
    "74377": [register(*eight(), hold="/G")],
    "74378": [register(*eight(count=6), hold="/G")],
    "74393": [
        ripple(
            [(f"{u}Q{letter}", place) for place, letter in enumerate("ABCD", 1)],
            clock=f"{u}CLK",
            clear=f"{u}CLR",
            stages=4,
        )
        for u in "12"
    ],
    "74573": [transparent(*eight())],
    "74574": [register(*eight(), release=("/OE",))],
    "74670": [
        Model(
            register_file, file_shows, {"/GW": 0, **dict.fromkeys(["D1", "D2", "D3", "D4"], 0)}, clocked_setting="words"
        )
    ],
    "4013": [d_flip_flop("1", high=True), d_flip_flop("2", high=True)],
    "4017": [johnson(10)],
    "4022": [johnson(8)],
    "4020": [ripple([(f"Q{n}", n) for n in (1, *range(4, 15))], clock="CLK", clear="R", stages=14)],
    "4024": [ripple([(f"Q{n}", n) for n in range(1, 8)], clock="CLK", clear="R", stages=7)],
    "4027": [jk(u, preset=True, rising=True, high=True) for u in "12"],
    "4040": [ripple([(f"Q{n}", n) for n in range(1, 13)], clock="CLK", clear="R", stages=12)],
    "4060": [ripple([(f"Q{n}", n) for n in (*range(4, 11), 12, 13, 14)], clock="RS", clear="R", stages=14)],
    "4076": [register(*eight(count=4), clear="CLR", hold="/G1 /G2", release=("/M", "/N"))],
    "40174": [register(*eight(count=6), clear="/CLR")],
    "4518": [dual_four("1", 10), dual_four("2", 10)],
    "4520": [dual_four("1", 16), dual_four("2", 16)],
}
BY_EIGHT = two_counters("CKA", "CKB", ["R01", "R02"], "QA", ["QB", "QC", "QD"], 8)
MODELS["7475"] = [pair_of_latches("G12", "12"), pair_of_latches("G34", "34")]
MODELS["7493"] = MODELS["74293"] = [
    Model(lambda s, now, before: BY_EIGHT.after(s, now, before), BY_EIGHT.shows, BY_EIGHT.known)
]
MODELS["74390"] = [
    two_counters(f"{u}CKA", f"{u}CKB", [f"{u}CLR"], f"{u}QA", [f"{u}Q{x}" for x in "BCD"], 5) for u in "12"
]
MODELS["74298"] = [
    Model(stored_selector, lambda s, _: spread(s, Q4), {f"{x}1": 0 for x in ABCD} | {"WS": 0}, clocked_setting="-CLK")
]
MODELS["74595"] = [Model(shift_595, shows_595, {"/SRCLR": 0, "SER": 0}, clocked_setting="RCLK")]
MODELS["4015"] = [shift_4015("1"), shift_4015("2")]
MODELS["4021"] = [
    Model(shift_4021, lambda s, _: spread(s >> 5, ["Q6", "Q7", "Q8"]), {"PS": 1, **{f"P{n}": 0 for n in range(1, 9)}})
]
MODELS["74290"] = MODELS["7490"]
MODELS = {key: models for key, models in MODELS.items() if models}
