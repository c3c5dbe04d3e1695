"""
What combinational chips do, said once more in arithmetic, from the general description of each function.

A definition gets the driven pins by name and returns what output pins show: 0, 1 or 2 (let go). Nothing here is taken
from the catalogue's equations. Source: what the functions are called in any handbook (adder, decoder, selector...);
pin names and the odd table (arithmetic unit, seven segments, cascaded comparator): from memory.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from one_chip import Bits, Z, number

Pins = dict[str, Bits]
Definition = Callable[[Pins], Pins]


def gates(count: int, letters: str, rule: Callable[[Bits, int], Bits], output: str = "Y") -> Definition:
    """Equal gates that follow a rule on the number of ones at their inputs and the number of inputs."""

    def shown(pins: Pins) -> Pins:
        found = {}
        for unit in range(1, count + 1):
            head = str(unit) if count > 1 else ""
            found[head + output] = rule(sum(pins[head + letter] for letter in letters), len(letters)).astype(int)
        return found

    return shown


def all_ones(ones: Bits, inputs: int) -> Bits:
    return ones == inputs


def not_all(ones: Bits, inputs: int) -> Bits:
    return ones < inputs


def some(ones: Bits, _: int) -> Bits:
    return ones > 0


def none(ones: Bits, _: int) -> Bits:
    return ones == 0


def odd(ones: Bits, _: int) -> Bits:
    return ones % 2


def even(ones: Bits, _: int) -> Bits:
    return 1 - ones % 2


def pulls_low(inner: Definition) -> Definition:
    """An open collector shows its zeros and lets go of its ones."""
    return lambda pins: {name: np.where(value == 1, Z, value) for name, value in inner(pins).items()}


def let_go(value: Bits, enabled: Bits) -> Bits:
    return np.where(enabled == 1, value, Z)


def buffers(pairs: dict[str, tuple[str, str]], *, inverted: bool = False) -> Definition:
    """Output to (input, enable); an enable that begins with '/' is active low; several are joined by a blank."""

    def shown(pins: Pins) -> Pins:
        found = {}
        for output, (source, enables) in pairs.items():
            on = np.ones_like(pins[source])
            for enable in enables.split():
                on = on * (1 - pins[enable] if enable.startswith("/") else pins[enable])
            found[output] = let_go(1 - pins[source] if inverted else pins[source], on)
        return found

    return shown


def decoder(
    outputs: str, address: list[str], on: Callable[[Pins], Bits] | None = None, *, high: bool = False, last: int = 99
) -> Definition:
    """One of many; `outputs` has an asterisk where its number stands."""

    def shown(pins: Pins) -> Pins:
        chosen = number(pins, address)
        enabled = on(pins) if on else np.ones_like(chosen)
        names = {place: outputs.replace("*", str(place)) for place in range(min(2 ** len(address), last + 1))}
        picked = {name: ((chosen == place) & (enabled == 1)).astype(int) for place, name in names.items()}
        return {name: value if high else 1 - value for name, value in picked.items()}

    return shown


def both(*parts: Definition) -> Definition:
    return lambda pins: {name: value for part in parts for name, value in part(pins).items()}


def selector(
    output: str, sources: list[str], address: list[str], enable: str, *, tri: bool = False, inverted: bool = False
) -> Definition:
    """The source that the address names, low (or let go) while the enable, active low, is high."""

    def shown(pins: Pins) -> Pins:
        value = np.choose(number(pins, address), [pins[name] for name in sources])
        on = 1 - pins[enable]
        value = value if tri else value * on
        value = 1 - value if inverted else value
        return {output: let_go(value, on) if tri else value}

    return shown


def adder(pins: Pins) -> Pins:
    """A + B + carry."""
    total = number(pins, ["A1", "A2", "A3", "A4"]) + number(pins, ["B1", "B2", "B3", "B4"]) + pins["C0"]
    return {f"S{place + 1}": (total >> place) & 1 for place in range(4)} | {"C4": total >> 4}


def comparator(pins: Pins) -> Pins:
    """A against B; equal numbers let the cascading inputs decide (table from memory)."""
    a, b = (number(pins, [f"{side}{place}" for place in range(4)]) for side in "AB")
    cascade = {
        (gt, lt, eq): (0, 0, 1) if eq else (1 - lt, 1 - gt, 0)
        for gt in (0, 1) for lt in (0, 1) for eq in (0, 1)
    }  # fmt: skip
    rows = zip(a, b, pins["IGT"], pins["ILT"], pins["IEQ"], strict=True)
    told = [(1, 0, 0) if x > y else (0, 1, 0) if x < y else cascade[gt, lt, eq] for x, y, gt, lt, eq in rows]
    gt, lt, eq = np.array(told).T
    return {"OGT": gt, "OLT": lt, "OEQ": eq}


LOGIC_UNIT = [
    lambda a, b: ~a, lambda a, b: ~(a | b), lambda a, b: ~a & b, lambda a, b: 0 * a,
    lambda a, b: ~(a & b), lambda a, b: ~b, lambda a, b: a ^ b, lambda a, b: a & ~b,
    lambda a, b: ~a | b, lambda a, b: ~(a ^ b), lambda a, b: b, lambda a, b: a & b,
    lambda a, b: 0 * a - 1, lambda a, b: a | ~b, lambda a, b: a | b, lambda a, b: a,
]  # fmt: skip
SUMS = [
    lambda a, b: a, lambda a, b: a | b, lambda a, b: a | (~b & 15), lambda a, b: 0 * a - 1,
    lambda a, b: a + (a & ~b & 15), lambda a, b: (a | b) + (a & ~b & 15), lambda a, b: a - b - 1,
    lambda a, b: (a & ~b & 15) - 1, lambda a, b: a + (a & b), lambda a, b: a + b,
    lambda a, b: (a | (~b & 15)) + (a & b), lambda a, b: (a & b) - 1, lambda a, b: a + a,
    lambda a, b: (a | b) + a, lambda a, b: (a | (~b & 15)) + a, lambda a, b: a - 1,
]  # fmt: skip
"""The sixteen functions of the arithmetic unit with active-high data (table from memory); a low CN adds one."""


def arithmetic_unit(pins: Pins) -> Pins:
    """Function table, and the comparator output, which lets go when all of F is high."""
    a, b = (number(pins, [f"{side}{place}" for place in range(4)]) for side in "AB")
    chosen = number(pins, ["S0", "S1", "S2", "S3"])
    logic = np.choose(chosen, [rule(a, b) for rule in LOGIC_UNIT])
    total = np.choose(chosen, [rule(a, b) for rule in SUMS]) + (1 - pins["CN"])
    result = np.where(pins["M"] == 1, logic, total) & 15
    return {f"F{place}": (result >> place) & 1 for place in range(4)} | {"AEQB": np.where(result == 15, Z, 0)}


def carries(pins: Pins) -> Pins:
    """Carry of groups that generate (G) or propagate (P), worked out group by group."""
    found, carry, generate, propagate = {}, pins["CN"], 0 * pins["CN"], 0 * pins["CN"] + 1
    for place, name in ((0, "CNX"), (1, "CNY"), (2, "CNZ"), (3, "")):
        g, p = 1 - pins[f"/G{place}"], 1 - pins[f"/P{place}"]
        carry = np.where(g == 1, 1, np.where(p == 1, carry, 0))
        generate = np.where(g == 1, 1, np.where(p == 1, generate, 0))
        propagate = propagate * p
        if name:
            found[name] = carry
    return found | {"/G": 1 - generate, "/P": 1 - propagate}


def parity(pins: Pins) -> Pins:
    ones = sum(pins[letter] for letter in "ABCDEFGHI")
    return {"EVEN": (ones % 2 == 0).astype(int), "ODD": ones % 2}


def equality(pins: Pins) -> Pins:
    p, q = (number(pins, [f"{side}{place}" for place in range(8)]) for side in "PQ")
    return {"/EQ": 1 - ((p == q) & (pins["/G"] == 0)).astype(int)}


def highest_of_ten(pins: Pins) -> Pins:
    """The largest input that is low, as a number in active-low code; nothing low counts as nought."""
    value = np.zeros_like(pins["/1"])
    for place in range(1, 10):
        value = np.where(pins[f"/{place}"] == 0, place, value)
    return {f"/Q{letter}": 1 - ((value >> place) & 1) for place, letter in enumerate("ABCD")}


def highest_of_eight(pins: Pins) -> Pins:
    """As above with eight inputs, an enable, a sign that something is low, and an enable for the next one."""
    on, value, any_low = 1 - pins["/EI"], 0 * pins["/EI"], 0 * pins["/EI"]
    for place in range(8):
        low = 1 - pins[f"/{place}"]
        value, any_low = np.where(low == 1, place, value), any_low | low
    found = {f"/A{place}": 1 - ((value >> place) & 1) * on * any_low for place in range(3)}
    return found | {"/GS": 1 - on * any_low, "/EO": 1 - on * (1 - any_low)}


SEGMENTS = {
    0: "abcdef", 1: "bc", 2: "abged", 3: "abgcd", 4: "fgbc", 5: "afgcd", 6: "fgcde", 7: "abc", 8: "abcdefg", 9: "abcfg",
    10: "deg", 11: "cdg", 12: "bfg", 13: "adfg", 14: "defg", 15: "",
}  # fmt: skip
"""Digits without tails on 6 and 9; the figures of 10 to 15 from memory."""


def segments(*, low: bool) -> Definition:
    """Lamp test lights all; blanking, from outside or by a suppressed nought, none."""

    def shown(pins: Pins) -> Pins:
        digit = number(pins, list("ABCD"))
        suppressed = (digit == 0) & (pins["/RBI"] == 0) & (pins["/LT"] == 1)
        on = 1 - suppressed.astype(int)
        found = {"/BI": np.where(suppressed, 0, Z)}
        for letter in "abcdefg":
            lit = np.isin(digit, [value for value, drawn in SEGMENTS.items() if letter in drawn]).astype(int)
            lit = np.where(pins["/LT"] == 0, 1, lit) * on
            found[("/S" if low else "S") + letter.upper()] = np.where(lit == 1, 0, Z) if low else lit
        return found

    return shown


UNITS = ("1", "2")
SIXTEEN = [f"E{place}" for place in range(16)]

DEFINITIONS: dict[str, Definition] = {
    "7400": gates(4, "AB", not_all),
    "7401": pulls_low(gates(4, "AB", not_all)),
    "7402": gates(4, "AB", none),
    "7403": pulls_low(gates(4, "AB", not_all)),
    "7404": gates(6, "A", none),
    "7405": pulls_low(gates(6, "A", none)),
    "7406": pulls_low(gates(6, "A", none)),
    "7407": pulls_low(gates(6, "A", some)),
    "7408": gates(4, "AB", all_ones),
    "7409": pulls_low(gates(4, "AB", all_ones)),
    "7410": gates(3, "ABC", not_all),
    "7411": gates(3, "ABC", all_ones),
    "7412": pulls_low(gates(3, "ABC", not_all)),
    "7413": gates(2, "ABCD", not_all),
    "7414": gates(6, "A", none),
    "7415": pulls_low(gates(3, "ABC", all_ones)),
    "7416": pulls_low(gates(6, "A", none)),
    "7417": pulls_low(gates(6, "A", some)),
    "7420": gates(2, "ABCD", not_all),
    "7421": gates(2, "ABCD", all_ones),
    "7422": pulls_low(gates(2, "ABCD", not_all)),
    "7425": lambda pins: {
        f"{unit}Y": np.where(pins[f"{unit}G"] == 1, 1 - np.maximum.reduce([pins[unit + x] for x in "ABCD"]), 1)
        for unit in UNITS
    },
    "7426": pulls_low(gates(4, "AB", not_all)),
    "7427": gates(3, "ABC", none),
    "7428": gates(4, "AB", none),
    "7430": gates(1, "ABCDEFGH", not_all),
    "7432": gates(4, "AB", some),
    "7433": pulls_low(gates(4, "AB", none)),
    "7434": gates(6, "A", some),
    "7437": gates(4, "AB", not_all),
    "7438": pulls_low(gates(4, "AB", not_all)),
    "7440": gates(2, "ABCD", not_all),
    "7442": decoder("/Y*", list("ABCD"), last=9),
    "7445": pulls_low(decoder("/Y*", list("ABCD"), last=9)),
    "7446": segments(low=True),
    "7447": segments(low=True),
    "7448": segments(low=False),
    "7451": lambda p: {
        "1Y": 1 - np.maximum(p["1A"] * p["1B"] * p["1C"], p["1D"] * p["1E"] * p["1F"]),
        "2Y": 1 - np.maximum(p["2A"] * p["2B"], p["2C"] * p["2D"]),
    },
    "7454": lambda p: {
        "Y": (p["A"] * p["B"] + p["C"] * p["D"] * p["E"] + p["F"] * p["G"] * p["H"] + p["I"] * p["J"] == 0).astype(int)
    },
    "7455": lambda p: {"Y": (p["A"] * p["B"] * p["C"] * p["D"] + p["E"] * p["F"] * p["G"] * p["H"] == 0).astype(int)},
    "7483": adder,
    "7485": comparator,
    "7486": gates(4, "AB", odd),
    "74125": buffers({f"{unit}Y": (f"{unit}A", f"/{unit}G") for unit in range(1, 5)}),
    "74126": buffers({f"{unit}Y": (f"{unit}A", f"{unit}G") for unit in range(1, 5)}),
    "74132": gates(4, "AB", not_all),
    "74133": gates(1, "ABCDEFGHIJKLM", not_all),
    "74136": pulls_low(gates(4, "AB", odd)),
    "74138": decoder("/Y*", list("ABC"), lambda p: p["G1"] * (1 - p["/G2A"]) * (1 - p["/G2B"])),
    "74139": both(
        *(decoder(f"/{u}Y*", [f"{u}A", f"{u}B"], lambda p, u=u: 1 - p[f"/{u}G"]) for u in UNITS)  # type: ignore[misc]
    ),
    "74145": pulls_low(decoder("/Y*", list("ABCD"), last=9)),
    "74147": highest_of_ten,
    "74148": highest_of_eight,
    "74150": selector("W", SIXTEEN, list("ABCD"), "/G", inverted=True),
    "74151": both(
        selector("Y", [f"D{place}" for place in range(8)], list("ABC"), "/G"),
        selector("W", [f"D{place}" for place in range(8)], list("ABC"), "/G", inverted=True),
    ),
    "74154": decoder("/Y*", list("ABCD"), lambda p: (1 - p["/G1"]) * (1 - p["/G2"])),
    "74155": both(
        decoder("/1Y*", list("AB"), lambda p: p["1C"] * (1 - p["/1G"])),
        decoder("/2Y*", list("AB"), lambda p: (1 - p["/2C"]) * (1 - p["/2G"])),
    ),
    "74181": arithmetic_unit,
    "74182": carries,
    "74238": decoder("Y*", list("ABC"), lambda p: p["G1"] * (1 - p["/G2A"]) * (1 - p["/G2B"]), high=True),
    "74240": buffers(
        {f"{u}Y{place}": (f"{u}A{place}", f"/{u}G") for u in UNITS for place in range(1, 5)}, inverted=True
    ),
    "74241": buffers(
        {f"{u}Y{place}": (f"{u}A{place}", "/1G" if u == "1" else "2G") for u in UNITS for place in range(1, 5)}
    ),
    "74244": buffers({f"{u}Y{place}": (f"{u}A{place}", f"/{u}G") for u in UNITS for place in range(1, 5)}),
    "74251": both(
        selector("Y", [f"D{place}" for place in range(8)], list("ABC"), "/G", tri=True),
        selector("W", [f"D{place}" for place in range(8)], list("ABC"), "/G", tri=True, inverted=True),
    ),
    "74260": gates(2, "ABCDE", none),
    "74266": pulls_low(gates(4, "AB", even)),
    "74280": parity,
    "74283": adder,
    "74365": buffers({f"Y{place}": (f"A{place}", "/G1 /G2") for place in range(1, 7)}),
    "74366": buffers({f"Y{place}": (f"A{place}", "/G1 /G2") for place in range(1, 7)}, inverted=True),
    "74386": gates(4, "AB", odd),
    "74540": buffers({f"Y{place}": (f"A{place}", "/G1 /G2") for place in range(1, 9)}, inverted=True),
    "74541": buffers({f"Y{place}": (f"A{place}", "/G1 /G2") for place in range(1, 9)}),
    "74688": equality,
    "4001": gates(4, "AB", none),
    "4002": gates(2, "ABCD", none),
    "4011": gates(4, "AB", not_all),
    "4012": gates(2, "ABCD", not_all),
    "4023": gates(3, "ABC", not_all),
    "4025": gates(3, "ABC", none),
    "4028": decoder("Y*", list("ABCD"), high=True, last=9),
    "4030": gates(4, "AB", odd),
    "4049": gates(6, "A", none),
    "4050": gates(6, "A", some),
    "4068": both(gates(1, "ABCDEFGH", not_all), gates(1, "ABCDEFGH", all_ones, "YAND")),
    "4069": gates(6, "A", none),
    "4070": gates(4, "AB", odd),
    "4071": gates(4, "AB", some),
    "4072": gates(2, "ABCD", some),
    "4073": gates(3, "ABC", all_ones),
    "4075": gates(3, "ABC", some),
    "4077": gates(4, "AB", even),
    "4078": both(gates(1, "ABCDEFGH", none), gates(1, "ABCDEFGH", some, "YOR")),
    "4081": gates(4, "AB", all_ones),
    "4082": gates(2, "ABCD", all_ones),
    "4093": gates(4, "AB", not_all),
    "40106": gates(6, "A", none),
}
DEFINITIONS["74156"] = pulls_low(DEFINITIONS["74155"])
for _key, _tri, _inverted in (
    ("74153", False, False),
    ("74253", True, False),
    ("74352", False, True),
    ("74353", True, True),
):
    DEFINITIONS[_key] = both(
        *(
            selector(
                f"{u}Y", [f"{u}C{place}" for place in range(4)], ["A", "B"], f"/{u}G", tri=_tri, inverted=_inverted
            )
            for u in UNITS
        )
    )
for _key, _tri, _inverted in (
    ("74157", False, False),
    ("74158", False, True),
    ("74257", True, False),
    ("74258", True, True),
):
    DEFINITIONS[_key] = both(
        *(selector(f"{u}Y", [f"{u}A", f"{u}B"], ["S"], "/G", tri=_tri, inverted=_inverted) for u in range(1, 5))
    )
for _key, _inverted in (("74367", False), ("74368", True)):
    DEFINITIONS[_key] = buffers(
        {f"1Y{p}": (f"1A{p}", "/1G") for p in range(1, 5)} | {f"2Y{p}": (f"2A{p}", "/2G") for p in (1, 2)},
        inverted=_inverted,
    )
for _key, _high in (("4555", True), ("4556", False)):
    DEFINITIONS[_key] = both(
        *(
            decoder(("" if _high else "/") + f"{u}Y*", [f"{u}A", f"{u}B"], lambda p, u=u: 1 - p[f"/{u}E"], high=_high)  # type: ignore[misc]
            for u in UNITS
        )
    )
