"""A board of chips running under many fault sets at once: what each net shows to somebody who looks for a while."""

from kilter.simulate.logic.running.run import POWER_UPS, Shown, run
from kilter.simulate.logic.running.stimulus import Stimulus

__all__ = ["POWER_UPS", "Shown", "Stimulus", "run"]
