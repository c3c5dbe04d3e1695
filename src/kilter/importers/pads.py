"""Pads of a part gathered under their numbers: one number may occur several times, and some pads have none."""

from __future__ import annotations

from kilter.importers.description import Connection

UNNUMBERED = "unnumbered"
"""Name of a connected pad that the file gives no number."""


class Pads:
    """
    The pads of one part as they are met.

    >>> pads = Pads()
    >>> for number, net in (("1", "GND"), ("1", "GND"), ("2", ""), ("1", "VCC"), ("", "GND")):
    ...     pads.add(number, net)
    >>> {number: connection.net for number, connection in pads.pins.items()}, pads.split
    ({'1': 'GND', '1#2': 'VCC', 'unnumbered': 'GND'}, ['1'])
    """

    def __init__(self) -> None:
        self.pins: dict[str, Connection] = {}
        self.numbers: set[str] = set()
        self.split: list[str] = []

    def add(self, number: str, net: str, function: str = "") -> None:
        """Take one pad; net '' means that nothing is connected to it."""
        self.numbers.add(number)
        if not net:
            return
        name = number or UNNUMBERED
        again = 1
        while name in self.pins and self.pins[name].net != net:
            again += 1
            name = f"{number or UNNUMBERED}#{again}"
        if again > 1 and name not in self.pins:
            self.split.append(number or UNNUMBERED)
        self.pins[name] = Connection(net, function)
