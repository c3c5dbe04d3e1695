"""A written value read with bench notation; what was written stays in the error, so that the line can be found."""

from __future__ import annotations

from kilter.measure.errors import BadInput
from kilter.measure.measured import Measured
from kilter.measure.notation import read_quantity

SHOWN = 40
"""Characters of a text shown in a message."""


def written_value(text: str, unit: str = "") -> Measured:
    """
    The value of a text in bench notation.

    Args:
        text: As written.
        unit: Unit it must have; '' takes any.

    Raises:
        BadInput: It is no value, or one of another unit; the text is part of what was found.
    """
    try:
        return read_quantity(text, unit)
    except BadInput as error:
        shown = text if len(text) <= SHOWN else text[:SHOWN] + "..."
        found = f"'{' '.join(shown.split())}', {error.found},"
        raise BadInput(error.doing, found, error.allowed, error.do_next) from None
