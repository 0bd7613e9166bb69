"""An effect with the story of how it was reached."""

from __future__ import annotations

from dataclasses import dataclass, field

from steelyard.effects.groups import Estimate

ASSUMED_R = "assumed r"
POST_ONLY = "post only"
UNRANDOMISED = "unrandomised"
FROM_FIGURE = "read off a figure"
FROM_MEDIAN = "median converted"
BOUNDED_P = "p as a bound"
SKEWED = "skewed median"
RETRACTED = "retracted"
SURROGATE = "surrogate"
SUSPECT = "suspect numbers"
SCALE_OPEN = "scale not printed"
R_SETS_SIZE = "r sets the size"
RANDOMISATION_UNSTATED = "randomisation not stated"
PAIRS_IGNORED = "pairs taken as independent"
HALF_ADDED = "one half added"
CLUSTERS_IGNORED = "clusters not allowed for"

PAIRED_DESIGNS = ("within-person", "crossover")


@dataclass(frozen=True, slots=True)
class Formed:
    """One effect, signed as the paper's unit runs, and the route from the printed numbers.

    Attributes
    ----------
    estimate : Estimate
        In the question's metric; ratios on the log scale.
    contrast : str
        ``change``, ``post``, ``adjusted``, ``counts`` or ``as reported``.
    n_intervention, n_comparator : int or None
        People behind it; None where the paper does not say.
    r_used : float
        Pre-post correlation, or between-arm correlation within people; NaN if none was needed.
    r_from : str
        ``reported``, ``derived``, ``assumed`` or empty.
    steps : tuple of str
        Conversions from printed to used, in order.
    flags : tuple of str
        What a reader of the forest plot must know.
    assumptions : tuple of str
        What was assumed because the paper is silent.
    tier : str
        That of the weakest number behind it; one of `steelyard.reporting.TIERS`.
    comparator_variance : float
        Part of the variance that comes from the comparator arm; NaN where it is not known.
    clusters_allowed_for : bool
        Whether the paper's own analysis took account of clusters.
    """

    estimate: Estimate
    contrast: str
    n_intervention: int | None
    n_comparator: int | None
    r_used: float = float("nan")
    r_from: str = ""
    steps: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = field(default=())
    tier: str = "reported"
    comparator_variance: float = float("nan")
    clusters_allowed_for: bool = False

    @property
    def route(self) -> str:
        """The conversions and the formula, as one line."""
        return told_route(self.steps, self.estimate.method)


def told_route(steps: tuple[str, ...], method: str) -> str:
    """Steps that changed a number, each once, then the formula."""
    telling = (step for step in steps if not step.startswith("printed "))
    return "; ".join(dict.fromkeys((*telling, method)))
