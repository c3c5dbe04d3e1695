"""The house that keeps an object and hands its record over: a name for people, an address for machines."""

from __future__ import annotations

import re
from dataclasses import dataclass

from kilter.measure.errors import BadInput

URI = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:[A-Za-z0-9._~:/?#\[\]@!$&'()*+,;=%-]+")
"""Scheme and at least one sign that may stand in one (RFC 3986, 2 and 3)."""


@dataclass(frozen=True, slots=True)
class House:
    """
    A collection.

    Args:
        name: As people call it; '' where nobody said.
        uri: An address that names it and no other, such as that of its entry in a register; '' where it has none.

    Raises:
        BadInput: `uri` is no URI.

    >>> House("Halden Cross Museum", "https://houses.example/halden-cross").name
    'Halden Cross Museum'
    """

    name: str = ""
    uri: str = ""

    def __post_init__(self) -> None:
        if self.uri and not URI.fullmatch(self.uri):
            raise BadInput(
                "Cannot say which house hands over",
                f"'{self.uri}', which is no URI",
                "scheme, colon and what it names, without blanks, such as https://houses.example/halden-cross",
                "Write the address of the house in a register, or leave it out.",
            )
