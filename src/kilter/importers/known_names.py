"""Names a person may use at one place: found in any case, and the near ones listed where one is wrong."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches

from kilter.measure.errors import BadInput

LISTED = 12
"""Names listed in an error message."""


def nearest(name: str, names: Iterable[str]) -> list[str]:
    """Names spelled nearly like this one, the nearest first, in their own spelling."""
    spelled = {one.lower(): one for one in names}
    return [spelled[low] for low in get_close_matches(name[:80].lower(), list(spelled), 5, 0.6)]


class KnownNames:
    """
    The names of one kind of thing.

    >>> nets = KnownNames("net", ["vcc", "Out"])
    >>> nets.get("VCC"), nets.get("vc")
    ('vcc', None)
    """

    def __init__(self, what: str, names: Iterable[str]) -> None:
        self.what = what
        self.names = dict.fromkeys(names)
        self.lower: dict[str, list[str]] = {}
        for name in self.names:
            self.lower.setdefault(name.lower(), []).append(name)

    def get(self, name: str) -> str | None:
        """The name as it is spelled, or None; one that differs only in case counts if there is no other."""
        if name in self.names:
            return name
        others = self.lower.get(name.lower(), [])
        return others[0] if len(others) == 1 else None

    def find(self, name: str, doing: str, place: str) -> str:
        """
        The name as it is spelled.

        Raises:
            BadInput: There is no such name; the message lists near ones.
        """
        found = self.get(name)
        if found is not None:
            return found
        near = nearest(name, self.names)
        listed = near + [one for one in self.names if one not in near]
        more = f" and {len(listed) - LISTED} more" if len(listed) > LISTED else ""
        raise BadInput(
            doing, f"the {self.what} '{name}' at {place}, which does not exist",
            (", ".join(listed[:LISTED]) + more) or f"nothing: the board has no {self.what}",
            f"Did you mean '{near[0]}'?" if near else f"Use one of these or add the {self.what}.",
        )  # fmt: skip
