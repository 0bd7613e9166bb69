"""Where each check starts to speak: every limit, with its source or "own rule" beside it.

"Own computation" means: computed for this project from the open extraction table behind
Steele et al. (2023), J Sports Sci (111 resistance-training trials against non-training
controls, 1,122 effects). "Own rule" means: chosen here, with no source.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SpreadLimits:
    """Coefficients of variation (SD over mean) between people, as proportions.

    Attributes
    ----------
    telling : float
        Below this an SD is more likely a standard error.
    implausible : float
        Below this it is small for groups of people.
    beside : float
        Below this it is more likely a standard error where another arm's SD fits SD·√n.
    narrow : float
        Below this it is small enough for a change above 3 SDs to speak against it.
    wide : float
        Below this, for arms that start further apart than their SDs allow to speak against it.
    widest : float
        Above this an SD is wider than groups of people usually are.
    impossible : float
        Above this an SD is more likely an SD that was typed as a standard error.
    largest_gain : float
        Above this proportion of the starting value a group's mean gain is out of reach.
    """

    telling: float
    implausible: float
    beside: float
    narrow: float
    wide: float
    widest: float
    impossible: float
    largest_gain: float


# implausible: own computation; with every SD of the table divided by √n, 8 % found 66 % of
#   the strength SDs at 1 % false alarms, 5 % found 68 % of the size SDs at 6 %.
# telling, beside, narrow, wide: own rules, chosen for strength on draws like those of
#   tests/judging/test_integrity_rates.py, with other seeds than the rates are measured by.
#   Isometric strength, with a lower quartile of 16 %, keeps `telling` below 8 %: 2 in 100 sound
#   ones are under that. A change above 3 SDs alone is seen in 5 of 100 sound arms, with an SD
#   below `narrow` in fewer than 1; starts further apart than chance in 2 of 100 sound studies.
#   Those of size are not fitted: 5 %, and nearly the same ratios to it.
# widest: own rule, near the 95th percentile of a log-normal through the quartiles of the table
#   (1RM 18-30 %, ultrasound 12-22 %); isokinetic (18-33 %) has its 90th there.
# impossible: own rule.
# largest_gain: the largest single person's gain in 12 weeks among 585, Hubal et al. (2005),
#   Med Sci Sports Exerc: +250 % in 1RM, +59 % in muscle size; no group's mean should pass it.
SPREAD_LIMITS = {
    "strength": SpreadLimits(
        telling=0.073,
        implausible=0.08,
        beside=0.084,
        narrow=0.10,
        wide=0.117,
        widest=0.45,
        impossible=0.60,
        largest_gain=2.50,
    ),
    "muscle-size": SpreadLimits(
        telling=0.05,
        implausible=0.05,
        beside=0.0575,
        narrow=0.0625,
        wide=0.08,
        widest=0.36,
        impossible=0.50,
        largest_gain=0.59,
    ),
}
OTHER_WIDEST = 0.42  # own rule: for constructs whose spread is not known
OTHER_IMPOSSIBLE = 0.65  # own rule: likewise

# Kadlec, Sainani & Nimphius (2023), Sports Med 53:313-325, doi 10.1007/s40279-022-01766-0:
# 60 % of standardised differences above 3 came from a standard error taken for an SD.
STANDARDISED_LIMIT = 3.0
PEER_RATIO = 2.5  # own rule: an SD below the median of like outcomes by this factor
PEER_STUDIES = 5  # own rule: like outcomes are asked of at least so many other studies

# Own rules. Kinds of strength differ in spread (isometric 21 %, isokinetic 25 % in the table), and
# a library's like outcomes tell which kind they are: from so many other studies on, `telling` is
# this share of their median SD over mean, and the limits above it move along; within these
# factors, so that no library bends them far. Size keeps its limits: in the table 6 % of sound
# size SDs lay below 5 %.
PEER_LIMIT_STUDIES = 20
PEER_SHARE = 0.32
PEER_FACTORS = {"strength": (0.925, 1.165)}

# Own rules for an SD beside another that is larger by about √n. People randomised into two arms
# spread alike, one arm before and after more so: the other SD must be further off than chance
# brings it this often, by an F test of both n (one-sided), and within this factor of SD·√n.
BESIDE_CHANCE = 0.01
BESIDE_FITS = 1.4
# Own rules for the gap between arms before training: chance brings it this often if the SDs are
# SDs (two-sided), and it is at the most so many standard errors if they are standard errors.
START_CHANCE = 0.02
START_MENDED = 2.5


@dataclass(frozen=True, slots=True)
class ChangeLimits:
    """Pre-post correlations that the SDs of change of sound studies mean.

    Attributes
    ----------
    rare : float
        Above this the SD of change of one arm is worth a look.
    telling : float
        Above this in every arm it is more likely a standard error.
    lowest, highest : float
        Between these lies the correlation that SD·√n must mean to explain it.
    needs_large : bool
        Whether a change above 3 SDs of change must stand beside it.
    """

    rare: float
    telling: float
    lowest: float
    highest: float
    needs_large: bool


# Own rule, around the quartiles of r in the table: strength .77-.96 in arms that train and
# .87-.95 in control arms, size .86-.98 and .95-1.00. Drawn from these, with the two arms'
# correlations tied by 0.5, fewer than 2 in 100 sound arms lie beyond `telling` in both, and about
# half of those whose SD of change is a standard error: `tests/judging/test_integrity_rates.py`
# measures both through the whole check.
CHANGE_LIMITS = {
    "strength": ChangeLimits(0.985, 0.9875, 0.50, 0.98, needs_large=False),
    "muscle-size": ChangeLimits(0.995, 0.993, 0.60, 0.99, needs_large=True),
}
R_OPEN = 0.2  # own rule: so far below the low default of r an untold r may lie
R_HIGHEST = 0.985  # own rule: and so high where no `telling` limit is known
BETWEEN_ARMS_OPEN = (0.0, 0.9)  # own rule: r of two limbs or periods where it is untold
CHANGE_ALONE = 6.0  # own rule, in SDs of change: a change and a difference above it are noted
R_FITS = 0.35  # own rule, in Fisher's z: so near to the printed r another one explains it
R_APART = 0.7  # own rule, in Fisher's z: so far above the printed r it contradicts it

CHANGE_WARNING = 0.1  # own rule, in pre-training SDs: below, a change mismatch is a note

# Own rules for a difference adjusted for the start: how far it may lie beyond those of changes and
# of scores after training, as a share of what lies between them, and by how many pooled SDs
# besides, for other covariates and people left out; more where only one of the two is known.
ADJUSTED_BEYOND = 0.5
ADJUSTED_SLACK = 0.1
ADJUSTED_SLACK_OPEN = 0.5
RESIDUAL = 3.5  # own rule: residual SDs are this much smaller at the most, 1/√(1 − 0.96²)

LOG_MEANS_OPEN = 0.03  # own rule: people's own logs against the log of means, at the least
LOG_OPEN = 0.02  # own rule: other log ratios, beyond rounding
RISK_OPEN = 0.005  # own rule: a risk difference, beyond rounding
LOG_FAR = 0.15  # own rule: a printed ratio further off is told as a warning

# Own rule; in the table 23-25 % of comparisons had a baseline gap above 0.5.
BASELINE_NOTE = 0.25
BASELINE_WARNING = 0.5

SD_RATIO = (0.6, 1.8)  # own rule: SD after training over SD before
SAME_SD_CELLS = 3  # own rule: so many cells of one outcome with the same printed SD
SAME_SD_DIGITS = 3  # own rule: only SDs of at least so many significant digits count,
SAME_SD_ALL = 4  # own rule: unless all cells of the outcome, at least so many, are alike

OFF_CENTRE = 0.05  # own rule: as a share of the interval's width, beyond rounding
SPREAD_MISMATCH = 0.05  # own rule: relative, beyond rounding; t or normal quantile both pass
P_RATIO = 3.0  # own rule: p's further apart than this factor, beyond rounding, disagree
P_FIT = 1.5  # own rule: p's within this factor agree, which is asked of an explanation
P_MOST = 0.2  # own rule: two p's both above this are not compared
# Own rule: normal deviates of two p's further apart contradict. Of 4,000 drawn samples of 8 to 29,
# fewer than 1 in 1,000 had a rank test so far from the t test, of strongly skewed ones 1 in 50.
Z_APART = 0.9
T_RATIO = 1.25  # own rule: two t's of one change further apart than this factor contradict
AS_CHANGE = 1.5  # own rule: an SD of change above so many SDs before training has another cause
SE_RATIO = 1.5  # own rule: standard errors of one difference within this factor agree
SE_WARNING = 2.5  # own rule: beyond this factor they are told as a warning
P_LEAST = 0.001  # own rule: below this all p's count as equal
SIGNIFICANCE = 0.05  # common practice

# Own rule: the mean of people's own percents and the percent of the means differ a little.
PERCENT_NOTE_POINTS = 3.0
PERCENT_NOTE_SHARE = 0.25
PERCENT_WARNING_POINTS = 10.0

SHARED_CELLS = 3  # own rule: mean and SD printed alike in so many cells of two studies
SHARED_CELL_DIGITS = 5  # own rule: significant digits of mean and SD together, to count
SHARED_CELL_STUDIES = 10  # own rule: a cell in more studies than this identifies none

# Own rules, in pre-training SDs.
WORSE_NOTE = 0.2  # every arm moves away from better by more
WORSE_ALONE = 0.3  # one that trains does so by more
BETTER_FLAT = 0.05  # while none moves toward better by more

# Own rule: 3.5 robust SDs is common practice since Iglewicz & Hoaglin (1993), from memory.
OUTLIER_Z = 3.5
OUTLIER_ROWS = 5  # own rule: fewer effects show no outlier
