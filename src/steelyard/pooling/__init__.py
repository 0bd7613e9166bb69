"""Pooling: arrays of effects and variances in, pooled results out."""

from steelyard.pooling.composite import Composite, composite, composite_of_correlated
from steelyard.pooling.dose_slope import DoseSlope, dose_slope
from steelyard.pooling.pool import PoolResult, pool
from steelyard.pooling.pool_many import PoolManyResult, pool_many

__all__ = [
    "Composite",
    "DoseSlope",
    "PoolManyResult",
    "PoolResult",
    "composite",
    "composite_of_correlated",
    "dose_slope",
    "pool",
    "pool_many",
]
