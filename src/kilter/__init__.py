"""
Kilter: find the fault in an old electronic object with few tests and least harm.

>>> import kilter
>>> board = kilter.load_board("organ.toml")                                 # doctest: +SKIP
>>> diagnosis = kilter.Diagnoser(board).diagnose(kilter.load_readings("organ.csv", board))   # doctest: +SKIP
>>> diagnosis.suspects[0].part, kilter.answer(diagnosis)["not_in_model"]    # doctest: +SKIP
('C12', 0.004)
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from kilter.measure.errors import BadInput, KilterError
    from kilter.records.reading import Reading
    from kilter.services.answer import answer
    from kilter.services.diagnose import Diagnoser, Diagnosis
    from kilter.services.predict import predict
    from kilter.wiring.loading import load_board, load_readings

_HOMES = {
    "BadInput": "kilter.measure.errors",
    "Diagnoser": "kilter.services.diagnose",
    "Diagnosis": "kilter.services.diagnose",
    "KilterError": "kilter.measure.errors",
    "Reading": "kilter.records.reading",
    "answer": "kilter.services.answer",
    "load_board": "kilter.wiring.loading",
    "load_readings": "kilter.wiring.loading",
    "predict": "kilter.services.predict",
}
"""Public names and where they live; each is loaded when it is first used, so that every part stays quick to import."""

__all__ = [
    "BadInput",
    "Diagnoser",
    "Diagnosis",
    "KilterError",
    "Reading",
    "answer",
    "load_board",
    "load_readings",
    "predict",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'kilter' has no attribute '{name}'")


def __dir__() -> list[str]:
    return sorted(__all__)
