"""The reference predictor: a healthy board reads what known-good boards of its type read. It needs no schematic."""

from kilter.simulate.reference.known_good import KnownGood, known_good
from kilter.simulate.reference.predictor import ReferencePredictor, with_reference

__all__ = ["KnownGood", "ReferencePredictor", "known_good", "with_reference"]
