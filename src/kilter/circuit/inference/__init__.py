"""What can be concluded about a board from its parts, values and nets alone; see docs/importers.md for the rules."""

from kilter.circuit.inference.infer import infer
from kilter.circuit.inference.inference import Inference

__all__ = ["Inference", "infer"]
