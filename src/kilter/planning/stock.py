"""What a piece from the shelf or from a donor is worth: the chance that it is good."""

from __future__ import annotations

from collections.abc import Mapping

from kilter.circuit.board import Board
from kilter.diagnose.posterior import Posterior
from kilter.measure.errors import BadInput
from kilter.planning.allocation.problem import Lot
from kilter.planning.numbers import numbers
from kilter.planning.part_types import part_type


def conditions() -> tuple[str, ...]:
    """The words for the condition of a piece."""
    return tuple(numbers("stock", "tested"))


def chance_good(condition: str, *, tested: bool) -> float:
    """
    Chance that a piece is good.

    Args:
        condition: One of `conditions()`; '' is 'unknown'.
        tested: Somebody tested it and it passed.

    Raises:
        BadInput: No such condition.

    >>> chance_good("", tested=False) <= chance_good("worn", tested=False) < chance_good("unused", tested=True)
    True
    """
    known = numbers("stock", "tested" if tested else "untested")
    word = condition.strip().lower() or "unknown"
    if word not in known:
        raise BadInput("Cannot tell how good a piece is", f"the condition '{condition}'", ", ".join(known),
                       "Use one of these words.")  # fmt: skip
    return float(known[word])


def donor_lots(board: Board, posterior: Posterior, parts: Mapping[str, str] | None = None) -> tuple[Lot, ...]:
    """
    What a donor would give: each part with the chance that it is good and survives being taken out.

    A donor is an object with its own diagnosis. The chance that a part is good is one less the probability that it is
    faulty now; a fault that the model cannot express is not laid at any part.

    Args:
        board: Of the donor.
        posterior: Of its own diagnosis.
        parts: References that are wanted and what they are called; all parts unless given.
    """
    wanted = parts if parts is not None else {ref: part_type(part) for ref, part in board.parts.items()}
    faulty, survives = posterior.parts(), numbers("stock", "survives")
    found = []
    for ref, name in wanted.items():
        part = board.parts[ref]
        stands = "socketed" if part.socketed else "original" if part.original else "later"
        good = (1.0 - faulty.get(ref, 0.0)) * float(survives[stands])
        found.append(Lot(ref, name, 1, max(0.0, good), f"{ref}, {stands}"))
    return tuple(found)
