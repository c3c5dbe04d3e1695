"""A test: a reading not yet taken, with what it costs and what it asks for first."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Test:
    """
    Something a restorer could do next.

    Args:
        point: Where.
        quantity: Key into the quantities data.
        state: Name of the state it wants.
        instrument: Key into the instruments data.
        minutes: Expected time, with setting the state up left out.
        grade: Intervention grade, 0 look to 6 irreversible.
        risk_object: Chance of harming the object.
        risk_person: Chance of harming the person, before precautions; such tests carry cautions.
        needs: Names of checks that must be passed first, such as 'power checks'.
    """

    __test__ = False  # not a test case, whatever a test runner thinks of the name

    point: str
    quantity: str
    state: str
    instrument: str = ""
    minutes: float = 1.0
    grade: int = 2
    risk_object: float = 0.0
    risk_person: float = 0.0
    needs: tuple[str, ...] = ()
