"""Command families of live instruments, from data/live_profiles.toml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from kilter.measure.errors import BadInput
from kilter.measure.tables import table


@dataclass(frozen=True)
class ValueProfile:
    """A meter or supply: quantity to the query that answers with one number; '{channel}' stands for the output."""

    key: str
    words: str
    ask: Mapping[str, str]

    def query(self, quantity_key: str, channel: int = 1) -> str:
        """
        The question for one quantity.

        Raises:
            BadInput: This family has none for it.

        >>> value_profile("supplies", "channel_list").query("voltage", 2)
        'MEASure:VOLTage? (@2)'
        """
        if quantity_key in self.ask:
            return self.ask[quantity_key].replace("{channel}", str(channel))
        raise BadInput(f"Cannot ask an instrument of the family '{self.key}'", f"the quantity '{quantity_key}'",
                       ", ".join(self.ask), "Ask for one of these, or choose another family.")  # fmt: skip


@dataclass(frozen=True)
class ScopeProfile:
    """
    An oscilloscope.

    Args:
        key: Of the family.
        words: For people.
        before: Commands sent first, with '{channel}'.
        preamble: Query of ten numbers, '' where each has its own.
        each: interval, start, increment, origin, reference: to the query of each.
        data: Query of the block.
        signed: Whether bytes are signed.
        levels_first: Whether the origin is subtracted in levels, before they are multiplied.
    """

    key: str
    words: str
    before: tuple[str, ...]
    preamble: str
    each: Mapping[str, str]
    data: str
    signed: bool
    levels_first: bool


def limit(key: str) -> float:
    """One of the limits on waiting and size."""
    return float(table("live_profiles")["limits"][key])


def value_profile(group: str, key: str) -> ValueProfile:
    """
    A family of meters or supplies.

    Raises:
        BadInput: There is none of that name; the message lists them.
    """
    entry = _entry(group, key)
    return ValueProfile(key, entry["words"], entry["ask"])


def scope_profile(key: str) -> ScopeProfile:
    """
    A family of oscilloscopes.

    Raises:
        BadInput: There is none of that name; the message lists them.
    """
    entry = _entry("scopes", key)
    return ScopeProfile(
        key=key,
        words=entry["words"],
        before=tuple(entry["before"]),
        preamble=entry.get("preamble", ""),
        each=entry.get("each", {}),
        data=entry["data"],
        signed=entry["bytes"] == "signed",
        levels_first=entry["volts"] == "levels first",
    )


def families(group: str) -> Mapping[str, str]:
    """Every family of 'meters', 'supplies' or 'scopes', with its words."""
    return {key: entry["words"] for key, entry in table("live_profiles")[group].items()}


def _entry(group: str, key: str) -> Mapping[str, Any]:
    known = table("live_profiles")[group]
    if key in known:
        found: Mapping[str, Any] = known[key]
        return found
    raise BadInput(f"Cannot choose a command family of {group}", f"the name '{key}'", ", ".join(known),
                   "Use one of these; 'measure' suits most.")  # fmt: skip
