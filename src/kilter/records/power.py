"""What an object wants of its supply, what an adaptor offers, and the mains between them; None is 'not known'."""

from __future__ import annotations

from dataclasses import dataclass

KINDS = ("dc", "ac")
POLARITIES = ("centre positive", "centre negative")


@dataclass(frozen=True)
class Wanted:
    """
    What the object wants at its supply input.

    Args:
        kind: 'dc' or 'ac'.
        volts: Nominal. [V]
        lowest: At which it still works. [V]
        highest: That it may see. [V]
        current: At most. [A]
        polarity: 'centre positive' or 'centre negative'; of no matter for ac.
        regulates: Whether a regulator of its own follows the input.
        rectifies: Whether a bridge rectifier of its own follows the input, so that either kind and polarity works.
        plug: In words, as printed or measured.
        fuse: In words, where it has one.
    """

    kind: str | None = None
    volts: float | None = None
    lowest: float | None = None
    highest: float | None = None
    current: float | None = None
    polarity: str | None = None
    regulates: bool | None = None
    rectifies: bool = False
    plug: str | None = None
    fuse: str | None = None


@dataclass(frozen=True)
class Offered:
    """
    What an adaptor offers: its nameplate, and what was measured.

    Args:
        kind: 'dc' or 'ac'.
        volts: Nameplate. [V]
        current: Nameplate. [A]
        polarity: As `Wanted`.
        regulated: Whether its output is regulated.
        open_volts: Measured without load. [V]
        loaded_volts: Measured at `loaded_current`. [V]
        loaded_current: [A]
        mains_volts: Lowest and highest rated input. [V]
        mains_hertz: Rated frequencies. [Hz]
        plug: In words.
    """

    kind: str | None = None
    volts: float | None = None
    current: float | None = None
    polarity: str | None = None
    regulated: bool | None = None
    open_volts: float | None = None
    loaded_volts: float | None = None
    loaded_current: float | None = None
    mains_volts: tuple[float, float] | None = None
    mains_hertz: tuple[float, ...] | None = None
    plug: str | None = None


@dataclass(frozen=True)
class Mains:
    """
    The mains at the place of use.

    Args:
        volts: Nominal. [V]
        low: Lowest, as a share of nominal.
        high: Highest, as a share of nominal.
        hertz: [Hz]
    """

    volts: float | None = None
    low: float = 0.9
    high: float = 1.1
    hertz: float | None = None
