"""Which number of a comparison becomes the effect, so that a finding can say it."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.effects.selection import Pairing
from steelyard.effects.table import table_of
from steelyard.judging.integrity.rounded import told
from steelyard.records.question import SPREAD_METRICS, Question
from steelyard.records.study import Comparison, Study

_FROM_PAPER = ("as reported", "adjusted")


@dataclass(frozen=True, slots=True)
class PooledNumber:
    """The effect of one comparison under a question that leaves everything to the defaults.

    Attributes
    ----------
    value : float
        Intervention less comparator as the outcome's own unit runs; ratios on the log scale.
    from_paper : bool
        Whether it is the paper's own number and not formed from the arms.
    """

    value: float
    from_paper: bool

    @property
    def words(self) -> str:
        """One sentence for a finding."""
        source = "the paper's own" if self.from_paper else "formed from the arms"
        sign = "+" if self.value > 0 else ""
        return f"left as it is, the effect is {sign}{told(self.value)}, {source}"


def pooled_number(study: Study, comparison: Comparison, *, metric: str) -> PooledNumber | None:
    """The effect that is pooled, or None where the comparison leads to none in this metric.

    Parameters
    ----------
    study : Study
    comparison : Comparison
        One of the study's own.
    metric : str
        As in a question, for example ``standardised``.
    """
    outcome = study.outcome(comparison.outcome)
    one, other = study.arm(comparison.intervention), study.arm(comparison.comparator)
    asked = Question(
        id="as-it-stands",
        asks="What does this comparison give?",
        constructs=(outcome.construct_id,),
        intervention=("one",),
        comparator=("other",),
        metric=metric,
    )
    rows = table_of([Pairing(study, outcome, one, other, comparison.week)], asked).rows
    if len(rows) != 1:
        return None
    row = rows.iloc[0]
    turned = outcome.better == "lower" and metric not in SPREAD_METRICS
    value = -float(row["effect"]) if turned else float(row["effect"])
    return PooledNumber(value, row["contrast"] in _FROM_PAPER)
