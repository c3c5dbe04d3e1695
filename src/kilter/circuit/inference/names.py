"""What the name of a net tells: the sheet it is on, a voltage, ground."""

from __future__ import annotations

import re

from kilter.measure.tables import table

VOLTAGE = re.compile(r"(?P<sign>[+-]?)(?P<whole>\d{1,4})(?:[.,](?P<decimals>\d{1,3}))?V(?P<after>\d{0,3})(?P<tail>.*)")
SIGNED = re.compile(r"(?P<sign>[+-])(?P<whole>\d{1,4})(?:[.,](?P<decimals>\d{1,3}))?")


def short_name(net: str) -> str:
    """
    A net's name without its sheet, in upper case; '' for automatic names.

    >>> short_name("/supply/+5v"), short_name("Net-(R1-Pad2)"), short_name("N$12")
    ('+5V', '', '')
    """
    word = net.rsplit("/", 1)[-1].upper()
    return "" if re.match(r"NET-\(|UNCONNECTED-\(|N\$\d", word) else word


def voltage_of(net: str) -> float | None:
    """
    The voltage that a supply's name tells. [V]

    >>> [voltage_of(name) for name in ("+5V", "/3V3", "-12VA", "+3.3V", "V5", "12V_IN", "5V_EN", "D5V", "+15")]
    [5.0, 3.3, -12.0, 3.3, None, 12.0, None, None, 15.0]
    """
    name = short_name(net)
    match = VOLTAGE.fullmatch(name)
    if match and any(word in match["tail"] for word in table("board_inference")["rails"]["signals"]):
        return None
    decimals = ""
    if match:
        decimals = match["decimals"] or match["after"] or ""
    else:
        match = SIGNED.fullmatch(name)
        if not match:
            return None
        decimals = match["decimals"] or ""
    return float(f"{match['sign']}{match['whole']}.{decimals or 0}")


def voltage_inside(net: str) -> float | None:
    """
    The voltage that a name tells behind a word of its own, which only counts where the net is built as a supply. [V]

    >>> voltage_inside("SYS_5V"), voltage_inside("VCC_3V3"), voltage_inside("CLOCK")
    (5.0, 3.3, None)
    """
    return voltage_of(short_name(net).partition("_")[2])


def is_unnumbered_supply(net: str) -> bool:
    """Whether a name is a supply's but does not tell its voltage, such as VCC."""
    return short_name(net) in table("board_inference")["rails"]["unnumbered"]
