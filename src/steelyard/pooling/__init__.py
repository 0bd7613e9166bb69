"""Pooling: arrays of effects and variances in, pooled results out."""

from steelyard.pooling.composite import Composite, composite, composite_of_correlated
from steelyard.pooling.dose_slope import DoseSlope, dose_slope
from steelyard.pooling.pool import PoolResult, pool
from steelyard.pooling.pool_many import PoolManyResult, pool_many
from steelyard.pooling.pool_nested import NestedPoolResult, pool_nested
from steelyard.pooling.regress import RegressResult, regress
from steelyard.pooling.small_study_regression import SmallStudyRegression, small_study_regression
from steelyard.pooling.trim_and_fill import TrimAndFill, trim_and_fill

__all__ = [
    "Composite",
    "DoseSlope",
    "NestedPoolResult",
    "PoolManyResult",
    "PoolResult",
    "RegressResult",
    "SmallStudyRegression",
    "TrimAndFill",
    "composite",
    "composite_of_correlated",
    "dose_slope",
    "pool",
    "pool_many",
    "pool_nested",
    "regress",
    "small_study_regression",
    "trim_and_fill",
]
