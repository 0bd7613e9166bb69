"""From what a paper printed to n, mean, SD and correlation, one file per route."""

from steelyard.reporting.change import change_sd_from_r, r_from_sds
from steelyard.reporting.extremes import (
    expected_range,
    mean_from_range,
    sd_from_range,
    sd_from_range_older,
)
from steelyard.reporting.five_numbers import mean_from_five_numbers, sd_from_five_numbers
from steelyard.reporting.interval import sd_from_interval, se_from_interval
from steelyard.reporting.log_change import (
    LogChange,
    log_change_from_percent,
    percent_to_log_change,
)
from steelyard.reporting.number import TIERS, Number, weakest_tier
from steelyard.reporting.p_value import (
    PValue,
    bounded_p,
    read_p,
    sd_from_p,
    sd_of_change_from_p,
    se_from_p,
)
from steelyard.reporting.percent_change import percent_change, post_mean_from_percent
from steelyard.reporting.quartiles import mean_from_quartiles, sd_from_quartiles
from steelyard.reporting.skewness import Lopsidedness, lopsided_quartiles, lopsided_range
from steelyard.reporting.standard_error import sd_from_se
from steelyard.reporting.subgroups import Combined, combine_groups, split_control
from steelyard.reporting.t_and_f import sd_of_change_from_t, se_from_f, se_from_t

__all__ = [
    "TIERS",
    "Combined",
    "LogChange",
    "Lopsidedness",
    "Number",
    "PValue",
    "bounded_p",
    "change_sd_from_r",
    "combine_groups",
    "expected_range",
    "log_change_from_percent",
    "lopsided_quartiles",
    "lopsided_range",
    "mean_from_five_numbers",
    "mean_from_quartiles",
    "mean_from_range",
    "percent_change",
    "percent_to_log_change",
    "post_mean_from_percent",
    "r_from_sds",
    "read_p",
    "sd_from_five_numbers",
    "sd_from_interval",
    "sd_from_p",
    "sd_from_quartiles",
    "sd_from_range",
    "sd_from_range_older",
    "sd_from_se",
    "sd_of_change_from_p",
    "sd_of_change_from_t",
    "se_from_f",
    "se_from_interval",
    "se_from_p",
    "se_from_t",
    "split_control",
    "weakest_tier",
]
