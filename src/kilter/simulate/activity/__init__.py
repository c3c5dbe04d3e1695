"""Activity predictor: blocks that pass quantities to one another. Public: ActivityPredictor."""

from kilter.simulate.activity.predictor import ActivityPredictor

__all__ = ["ActivityPredictor"]
