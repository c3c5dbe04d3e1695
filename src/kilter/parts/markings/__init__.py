"""What is printed on a part, and every way to read it."""

from kilter.parts.markings.interpretation import Interpretation, Ranked
from kilter.parts.markings.read import KINDS, Piece, read_colours, read_marking

__all__ = ["KINDS", "Interpretation", "Piece", "Ranked", "read_colours", "read_marking"]
