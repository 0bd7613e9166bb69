"""Pooling: arrays of effects and variances in, pooled results out."""

from steelyard.pooling.composite import Composite, composite, composite_of_correlated
from steelyard.pooling.covariance_blocks import CovarianceBlocks, covariance_blocks
from steelyard.pooling.cumulative import Accumulated, accumulate
from steelyard.pooling.detectable import Settleable, detectable_difference, settleable
from steelyard.pooling.directions import (
    ChanceAgreement,
    chance_any_significant,
    chance_same_direction,
)
from steelyard.pooling.dose_response import DoseCurve, DoseResponse, dose_response
from steelyard.pooling.dose_slope import DoseSlope, dose_slope
from steelyard.pooling.equivalence import (
    Equivalence,
    equivalence,
    equivalence_of_groups,
    equivalence_of_interval,
    equivalence_of_pool,
)
from steelyard.pooling.funnel import Funnel, funnel
from steelyard.pooling.influence import StudyInfluence, study_influence
from steelyard.pooling.information_size import InformationSize, information_size
from steelyard.pooling.leave_one_out import LeaveOneOut, leave_one_out
from steelyard.pooling.mantel_haenszel import MantelHaenszel, mantel_haenszel
from steelyard.pooling.pool import PoolResult, pool
from steelyard.pooling.pool_many import PoolManyResult, pool_many
from steelyard.pooling.pool_nested import NestedPoolResult, pool_nested
from steelyard.pooling.pool_nested_many import NestedPoolManyResult, pool_nested_many
from steelyard.pooling.pool_power import MoreToSettle, more_to_settle
from steelyard.pooling.posterior import Posterior, posterior
from steelyard.pooling.prior_sensitivity import prior_sensitivity
from steelyard.pooling.regress import RegressResult, regress
from steelyard.pooling.regress_many import RegressManyResult, regress_many
from steelyard.pooling.selection_model import SelectionModel, selection_model
from steelyard.pooling.small_study_regression import SmallStudyRegression, small_study_regression
from steelyard.pooling.trim_and_fill import TrimAndFill, trim_and_fill

__all__ = [
    "Accumulated",
    "ChanceAgreement",
    "Composite",
    "CovarianceBlocks",
    "DoseCurve",
    "DoseResponse",
    "DoseSlope",
    "Equivalence",
    "Funnel",
    "InformationSize",
    "LeaveOneOut",
    "MantelHaenszel",
    "MoreToSettle",
    "NestedPoolManyResult",
    "NestedPoolResult",
    "PoolManyResult",
    "PoolResult",
    "Posterior",
    "RegressManyResult",
    "RegressResult",
    "SelectionModel",
    "Settleable",
    "SmallStudyRegression",
    "StudyInfluence",
    "TrimAndFill",
    "accumulate",
    "chance_any_significant",
    "chance_same_direction",
    "composite",
    "composite_of_correlated",
    "covariance_blocks",
    "detectable_difference",
    "dose_response",
    "dose_slope",
    "equivalence",
    "equivalence_of_groups",
    "equivalence_of_interval",
    "equivalence_of_pool",
    "funnel",
    "information_size",
    "leave_one_out",
    "mantel_haenszel",
    "more_to_settle",
    "pool",
    "pool_many",
    "pool_nested",
    "pool_nested_many",
    "posterior",
    "prior_sensitivity",
    "regress",
    "regress_many",
    "selection_model",
    "settleable",
    "small_study_regression",
    "study_influence",
    "trim_and_fill",
]
