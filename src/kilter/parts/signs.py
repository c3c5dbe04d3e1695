"""Signs: what an eye would see on a part, healthy or with one failure mode."""

from __future__ import annotations

from collections.abc import Mapping

from kilter.parts.kinds import Mode, PartKind


def sign_chances(kind: PartKind, mode: Mode | None, clean: str = "clean") -> Mapping[str, float]:
    """
    Chance of each sign; what is left is the chance of seeing nothing.

    A faulty part shows its mode's sign first; where it shows none, it may look as bad as a healthy old part does.

    >>> from kilter.parts.kinds import part_kind
    >>> kind = part_kind("electrolytic")
    >>> leak = next(mode for mode in kind.modes if mode.key == "leak")
    >>> healthy, leaking = sign_chances(kind, None), sign_chances(kind, leak)
    >>> leaking["leaked"] > 5 * healthy["leaked"], round(sum(leaking.values()), 9)
    (True, 1.0)
    """
    own: Mapping[str, float] = {} if mode is None else mode.signs
    quiet = 1.0 - sum(own.values())
    chances = {sign: own.get(sign, 0.0) + quiet * kind.signs.get(sign, 0.0) for sign in {**kind.signs, **own}}
    chances[clean] = 1.0 - sum(chances.values())
    return chances
