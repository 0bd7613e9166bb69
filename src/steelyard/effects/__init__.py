"""Effects and their sampling variances, one file per family of metrics."""

from steelyard.effects.adjusted import adjusted_difference, standardised_adjusted_difference
from steelyard.effects.adjusted_arms import AdjustedArms, adjusted_differences
from steelyard.effects.as_reported import (
    difference_from_f,
    difference_from_p,
    difference_from_t,
    from_interval,
    from_standard_error,
    standardised_from_f,
    standardised_from_p,
    standardised_from_t,
    standardised_from_value,
)
from steelyard.effects.conversions import (
    correlation_from_standardised,
    log_odds_from_standardised,
    standardised_from_correlation,
    standardised_from_log_odds,
)
from steelyard.effects.correlation import correlation_from_z, fisher_z
from steelyard.effects.counts import log_odds_ratio, log_risk_ratio, risk_difference
from steelyard.effects.covariance import (
    comparison_correlation,
    outcome_correlation,
    shared_control_covariance,
    shared_control_covariance_raw,
    study_covariance,
)
from steelyard.effects.groups import Counts, Estimate, Group, PrePost
from steelyard.effects.independent import mean_difference, standardised_difference
from steelyard.effects.paired import (
    paired_difference,
    standardised_limb_changes,
    standardised_paired_difference,
    standardised_paired_from_differences,
)
from steelyard.effects.prepost import (
    change_difference,
    standardised_change_difference,
    standardised_change_from_changes,
)
from steelyard.effects.ratio_of_means import log_ratio_of_changes, log_ratio_of_means
from steelyard.effects.small_sample import small_sample_factor, small_sample_factor_approximate
from steelyard.effects.variability import log_cv_ratio, log_sd_ratio
from steelyard.effects.within_group import (
    change_in_group,
    difference_of_standardised_changes,
    standardised_change_in_group,
)

__all__ = [
    "AdjustedArms",
    "Counts",
    "Estimate",
    "Group",
    "PrePost",
    "adjusted_difference",
    "adjusted_differences",
    "change_difference",
    "change_in_group",
    "comparison_correlation",
    "correlation_from_standardised",
    "correlation_from_z",
    "difference_from_f",
    "difference_from_p",
    "difference_from_t",
    "difference_of_standardised_changes",
    "fisher_z",
    "from_interval",
    "from_standard_error",
    "log_cv_ratio",
    "log_odds_from_standardised",
    "log_odds_ratio",
    "log_ratio_of_changes",
    "log_ratio_of_means",
    "log_risk_ratio",
    "log_sd_ratio",
    "mean_difference",
    "outcome_correlation",
    "paired_difference",
    "risk_difference",
    "shared_control_covariance",
    "shared_control_covariance_raw",
    "small_sample_factor",
    "small_sample_factor_approximate",
    "standardised_adjusted_difference",
    "standardised_change_difference",
    "standardised_change_from_changes",
    "standardised_change_in_group",
    "standardised_difference",
    "standardised_from_correlation",
    "standardised_from_f",
    "standardised_from_log_odds",
    "standardised_from_p",
    "standardised_from_t",
    "standardised_from_value",
    "standardised_limb_changes",
    "standardised_paired_difference",
    "standardised_paired_from_differences",
    "study_covariance",
]
