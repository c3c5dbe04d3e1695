"""Whether one part can stand in for another, by rules that each name what they compare."""

from kilter.parts.substitutes.finding import CONDITIONS, FITS, NOT, UNKNOWN, VERDICTS, Finding
from kilter.parts.substitutes.judge import Comparison, judge
from kilter.parts.substitutes.part_data import ANY, PartData, kinds

__all__ = ["ANY", "CONDITIONS", "FITS", "NOT", "UNKNOWN", "VERDICTS", "Comparison", "Finding", "PartData", "judge",
           "kinds"]  # fmt: skip
