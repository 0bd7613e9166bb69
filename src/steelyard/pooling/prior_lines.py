"""How far the chance that an effect matters hangs on what was believed before."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from steelyard.pooling.belief import BETWEEN_PROGRAMMES_SD, MODEST, WEAK, in_100
from steelyard.pooling.pictures import PriorsData
from steelyard.pooling.prior_sensitivity import prior_sensitivity
from steelyard.pooling.side_words import favourable
from steelyard.pooling.weighing import Weighing
from steelyard.records.question import SPREAD_METRICS
from steelyard.show import Table

# In smallest worthwhile effects (own rule): from studies all but alike to studies that differ
# by far more than what would matter.
SPREADS = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0)
HARDLY = 5.0  # points in 100 within which the prior is said hardly to matter (own rule)


@dataclass(frozen=True, slots=True, eq=False)
class PriorLines:
    """Chances under every combination of two beliefs on the effect and six on the spread.

    Attributes
    ----------
    weighing : Weighing
    chances : DataFrame
        ``words`` (belief on the effect), ``spread`` (scale of the half-normal prior of the
        between-study SD, in units of what is worth having), ``chance`` (percent: better by
        enough, or better at all where no smallest worthwhile effect is set), ``estimate, low,
        high`` (machine scale).
    """

    weighing: Weighing
    chances: pd.DataFrame

    @property
    def sentence(self) -> str:
        """The range of the chance over the priors tried."""
        found = self.chances["chance"]
        enough = " by enough to matter" if self.weighing.worthwhile else ""
        low, high = in_100(found.min() / 100), in_100(found.max() / 100)
        if found.max() - found.min() <= HARDLY:
            span = low if low == high else f"{low} to {high}"
            return f"{len(found)} priors tried, all alike: the chance is {span}."
        return (
            f"Under the {len(found)} priors tried, the chance that {favourable(self.weighing)}"
            f"{enough} goes from {low} to {high}."
        )

    def table(self) -> Table:
        """A row per prior."""
        show = self.weighing
        rows = tuple(
            (
                row.words,
                f"{row.spread:g}",
                f"{show.text(row.estimate)}, {show.span(row.low, row.high)}",
                in_100(row.chance / 100),
            )
            for row in self.chances.itertuples()
        )
        columns = ("believed of the effect", "spread expected", "answer", "chance to matter")
        return Table("The chance under every prior tried", columns, rows, (UNIT,))

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


UNIT = (
    "Spread: scale of a half-normal prior for the SD between studies, in smallest effects worth "
    "having (twice the standard error where none is set)."
)


def prior_lines(weighing: Weighing) -> PriorLines:
    """The chance under a grid of priors, one effect per study; the beliefs are `belief`'s."""
    used = weighing.studies[weighing.studies["used"]]
    unit = weighing.worthwhile or 2 * weighing.standard_error
    second = ("a modest effect was expected", MODEST * unit)
    if weighing.question.metric == "standardised" and weighing.question.dose is None:
        second = ("as two programmes usually differ", BETWEEN_PROGRAMMES_SD)
    beliefs = (("little was known", WEAK * unit), second)
    found = prior_sensitivity(
        used["effect"],
        used["variance"],
        tau_scales=[spread * unit for spread in SPREADS],
        mean_priors=[(0.0, sd) for _, sd in beliefs],
        worthwhile=weighing.worthwhile or None,
        level=weighing.level,
    )
    return PriorLines(
        weighing,
        pd.DataFrame(
            {
                "words": [words for words, _ in beliefs for _ in SPREADS],
                "spread": list(SPREADS) * len(beliefs),
                "chance": 100 * found["above" if weighing.worthwhile else "positive"],
                "estimate": found["median"],
                "low": found["low"],
                "high": found["high"],
            }
        ),
    )


def priors_data(found: PriorLines) -> PriorsData:
    """What the picture of priors shows."""
    enough = "better by enough to matter" if found.weighing.worthwhile else "better at all"
    if found.weighing.question.metric in SPREAD_METRICS | {"correlation"}:
        enough = "on the side asked about, by enough to matter"
    worth = "smallest effects worth having"
    unit = worth if found.weighing.worthwhile else "twice the answer's standard error"
    return PriorsData(
        title="How much hangs on what was believed before?",
        subtitle=found.sentence,
        notes=("Invented data, for demonstration.",) if found.weighing.invented else (),
        curves=found.chances[["words", "spread", "chance"]],
        spread_title=f"spread expected between studies, in {unit}",
        chance_title=f"upward: chance in 100 that it is {enough} on average",
    )
