"""A client's own before and after, held against measurement error and against the evidence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from math import isfinite, sqrt

from scipy.special import ndtr, ndtri

from steelyard.errors import DesignError
from steelyard.explaining import own_result_words
from steelyard.explaining.wording.catalogue import catalogue
from steelyard.show import Shown

# 1.96 with two decimals, as the source prints it: 2.77 typical errors for single trials.
BEYOND = 1.96
# Own rule for a likely slip of typing: a start doubled or halved, or a change that one person in
# sixteen thousand would show if the studies hold.
TIMES_START = 2.0
FAR_FROM_EXPECTED = 4.0


@dataclass(frozen=True, slots=True)
class OwnResult(Shown):
    """One person's change, what the measure can tell, and what to think of it.

    Attributes
    ----------
    before, after, change : float
        Means of the trials; `unit`. The change is positive where the person improved.
    unit : str
    error : float
        Standard error of the change from the measure's typical error.
    detectable : float
        Smallest change beyond error, 95 %.
    beyond_error : bool
        Whether the change, either way, is larger than `detectable`.
    expected, expected_sd : float or None
        What the evidence led one to expect for a new person: mean, and SD over people and
        groups.
    likely, likely_sd : float or None
        Estimate of the true change: evidence and own result together.
    weight_on_own : float or None
        Share of the own result in that estimate, 0 to 1.
    chance_positive, chance_worthwhile : float or None
        That the true change is above 0, and above `worthwhile`.
    next_low, next_high : float or None
        Where the next measured change from the same start would fall, 95 %.
    worthwhile : float or None
    level : float
    better : str
        ``higher`` or ``lower``: which way of the measure is better.
    certainty : str
        Of the evidence joined; empty if not rated. Low and very low ones are said with an if.
    language : str
    invented : bool
        Whether the evidence is; the result then says so.
    notes : tuple of str
        On the evidence it was joined with, or why it was not.
    """

    before: float
    after: float
    change: float
    unit: str
    error: float
    detectable: float
    beyond_error: bool
    expected: float | None
    expected_sd: float | None
    likely: float | None
    likely_sd: float | None
    weight_on_own: float | None
    chance_positive: float | None
    chance_worthwhile: float | None
    next_low: float | None
    next_high: float | None
    worthwhile: float | None
    level: float = 0.95
    better: str = "higher"
    certainty: str = ""
    language: str = "en"
    invented: bool = False
    notes: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """Whether the change is beyond error; one that is not is never called real."""
        return own_result_words.sentence(self, catalogue(self.language))

    @property
    def against_evidence(self) -> str:
        """How the change sits in what the evidence predicted; empty without evidence."""
        return own_result_words.against_evidence(self, catalogue(self.language))

    @property
    def looks_mistyped(self) -> bool:
        """Whether the change is so large that a slip of typing is the first thing to look for."""
        if not self.beyond_error:
            return False
        low, high = sorted((self.before, self.after))
        if low > 0 and high >= TIMES_START * low:
            return True
        if self.expected is None:
            return False
        spread = sqrt(self.expected_sd**2 + self.error**2)
        return abs(self.change - self.expected) > FAR_FROM_EXPECTED * spread

    def as_json(self) -> dict[str, object]:
        """Every number, and the sentence."""
        numbers = {each.name: getattr(self, each.name) for each in fields(self)}
        more = {"sentence": self.sentence, "looks_mistyped": self.looks_mistyped}
        return {**numbers, "notes": list(self.notes), **more}

    def _title(self) -> str:
        return catalogue(self.language).say("own.title")

    def _rows(self) -> list[tuple[str, str]]:
        return own_result_words.rows(self, catalogue(self.language))


def own_result(
    before: float | Sequence[float],
    after: float | Sequence[float],
    *,
    typical_error: float,
    unit: str = "",
    expected: float | None = None,
    expected_sd: float | None = None,
    worthwhile: float | None = None,
    better: str = "higher",
    level: float = 0.95,
    certainty: str = "",
    language: str = "en",
    invented: bool = False,
    notes: tuple[str, ...] = (),
) -> OwnResult:
    """Hold one person's before and after against error, and join it with the evidence.

    Parameters
    ----------
    before, after : float or sequence of float
        Trials; their means are compared; `unit`.
    typical_error : float
        Standard error of one measurement, above 0; `unit`.
    unit : str
    expected, expected_sd : float, optional
        The change that the evidence predicts for a new person, and its SD over people and
        groups, above 0; both or neither. `unit`, positive for better.
    worthwhile : float, optional
        Smallest change worth having, above 0; `unit`.
    better : str
        ``higher`` or ``lower``; the change is turned so that positive is better.
    level : float
    certainty, language, invented, notes
        Kept with the result.

    Returns
    -------
    OwnResult

    Raises
    ------
    DesignError
        For a number outside its range.

    Notes
    -----
    Error of the change: typical error × sqrt(1/m₁ + 1/m₂), m trials each; smallest detectable
    change 1.96 times that, 2.77 typical errors for single trials [1]_. The estimate weighs
    evidence and result by their precisions, as two normal distributions; the true change of
    one person joins both [2]_.

    References
    ----------
    .. [1] Weir, J. P. (2005). Quantifying test-retest reliability using the intraclass
           correlation coefficient and the SEM. J Strength Cond Res 19, 231-240.
    .. [2] Spiegelhalter, D. J., Abrams, K. R., & Myles, J. P. (2004). Bayesian approaches to
           clinical trials and health-care evaluation. Wiley. From memory.
    """
    first, last = _trials(before, "before"), _trials(after, "after")
    typical = above_zero(typical_error, "typical_error")
    if better not in ("higher", "lower"):
        raise DesignError(f"better must be higher or lower; it is {better!r}")
    if (expected is None) != (expected_sd is None):
        raise DesignError("expected and expected_sd go together; one of them is missing")
    start, end = sum(first) / len(first), sum(last) / len(last)
    change = (end - start) * (1 if better == "higher" else -1)
    error = typical * sqrt(1 / len(first) + 1 / len(last))
    detectable = BEYOND * error
    joined: dict[str, float | None] = dict.fromkeys(
        (
            *("likely", "likely_sd", "weight_on_own", "chance_positive", "chance_worthwhile"),
            *("next_low", "next_high"),
        )
    )
    if expected is not None:
        prior_sd = above_zero(expected_sd, "expected_sd")
        joined = _joined(
            change, error=error, mean=float(expected), sd=prior_sd, level=level, least=worthwhile
        )
    return OwnResult(
        before=start,
        after=end,
        change=change,
        unit=unit,
        error=error,
        detectable=detectable,
        beyond_error=abs(change) > detectable,
        expected=None if expected is None else float(expected),
        expected_sd=None if expected_sd is None else float(expected_sd),
        worthwhile=None if worthwhile is None else above_zero(worthwhile, "worthwhile"),
        level=level,
        better=better,
        certainty=certainty,
        language=language,
        invented=invented,
        notes=notes,
        **joined,
    )


def smallest_detectable_change(typical_error: float) -> float:
    """1.96 · √2 · SEM, 2.77 SEM: the smallest change between two trials beyond error, 95 %."""
    return BEYOND * sqrt(2) * above_zero(typical_error, "typical_error")


def standard_error_from_icc(sd: float, *, icc: float) -> float:
    """Typical error from the SD between people and the reliability: SD · √(1 − ICC)."""
    if not 0 <= icc < 1:
        raise DesignError(f"icc must lie from 0 to below 1; it is {icc!r}")
    return above_zero(sd, "sd") * sqrt(1 - icc)


def _joined(change, *, error, mean, sd, level, least) -> dict[str, float | None]:
    own, prior = 1 / error**2, 1 / sd**2
    likely = (own * change + prior * mean) / (own + prior)
    likely_sd = sqrt(1 / (own + prior))
    reach = float(ndtri((1 + level) / 2)) * sqrt(likely_sd**2 + error**2)
    return {
        "likely": likely,
        "likely_sd": likely_sd,
        "weight_on_own": own / (own + prior),
        "chance_positive": float(ndtr(likely / likely_sd)),
        "chance_worthwhile": None if least is None else float(ndtr((likely - least) / likely_sd)),
        "next_low": likely - reach,
        "next_high": likely + reach,
    }


def _trials(values, name: str) -> list[float]:
    # A text would be taken apart into its digits.
    if values is None or isinstance(values, str):
        raise DesignError(f"{name} must hold numbers; it is {values!r}")
    given = [values] if isinstance(values, int | float) else list(values)
    try:
        trials = [float(value) for value in given]
    except (TypeError, ValueError) as odd:
        raise DesignError(f"{name} must hold numbers; it is {values!r}") from odd
    if not trials or not all(map(isfinite, trials)):
        raise DesignError(f"{name} must hold at least one number, and all finite; it is {values!r}")
    return trials


def above_zero(value, name: str) -> float:
    """A number above 0, or a `DesignError` that says what was found instead."""
    try:
        found = float(value)
    except (TypeError, ValueError) as odd:
        raise DesignError(f"{name} must be a number above 0; it is {value!r}") from odd
    if not (isfinite(found) and found > 0):
        raise DesignError(f"{name} must be a number above 0; it is {value!r}")
    return found
