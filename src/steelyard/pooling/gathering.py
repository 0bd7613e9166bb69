"""The answer as studies gather: in the order of their years, and from the largest down."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.errors import DesignError
from steelyard.pooling.cumulative import REPEATED_LOOKS, accumulate
from steelyard.pooling.effect_axis import effect_axis, ends_shown
from steelyard.pooling.pictures import GatheringData
from steelyard.pooling.weighing import Weighing
from steelyard.show import Table, count

FEWEST_STUDIES = 3
ORDERS = {"year": "oldest first", "size": "most precise first"}


@dataclass(frozen=True, slots=True, eq=False)
class Gathering:
    """Answers of the first study, the first two, and so on, in two orders.

    Attributes
    ----------
    weighing : Weighing
    steps : DataFrame
        ``order`` (a key of `ORDERS`), ``studies`` (so far), ``label`` (of the one that came
        in), ``estimate, low, high`` (machine scale).
    """

    weighing: Weighing
    steps: pd.DataFrame

    @property
    def sentence(self) -> str:
        """From which study on each order stays inside the final interval."""
        show = self.weighing
        last = self.steps[self.steps["order"] == "size"].iloc[-1]
        parts = []
        for order, words in ORDERS.items():
            part = self.steps[self.steps["order"] == order]
            if not part.empty:
                inside = part["estimate"].between(last["low"], last["high"]).to_numpy()
                since = len(part) - int(np.argmin(inside[::-1])) if not inside.all() else 0
                parts.append(f"{words}, from study {since + 1} on")
        size = self.steps[self.steps["order"] == "size"]
        half = size.iloc[(len(size) + 1) // 2 - 1]
        return (
            f"The estimate stays inside the final interval ({'; '.join(parts)}). "
            f"The {count(int(half['studies']), 'most precise study', 'most precise studies')} "
            f"alone say {show.text(half['estimate'])} ({show.span(half['low'], half['high'])})."
        )

    def table(self) -> Table:
        """A row per step, both orders one after the other."""
        show = self.weighing
        rows = tuple(
            (
                ORDERS[row.order],
                str(row.studies),
                row.label,
                f"{show.text(row.estimate)}, {show.span(row.low, row.high)}",
            )
            for row in self.steps.itertuples()
        )
        notes = (f"{REPEATED_LOOKS[:1].upper()}{REPEATED_LOOKS[1:]}.", ONE_EFFECT)
        columns = ("order", "studies", "came in", "answer")
        return Table("The answer as studies gather", columns, rows, notes)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


ONE_EFFECT = "Each study enters with one effect."


def gathering(weighing: Weighing) -> Gathering:
    """Pool study after study, by year and by precision.

    Parameters
    ----------
    weighing : Weighing

    Returns
    -------
    Gathering
        Without the order of years where fewer than two studies have one; those without a year
        come last.

    Raises
    ------
    DesignError
        With fewer than three pooled studies.
    """
    if weighing.k_studies < FEWEST_STUDIES:
        told = count(weighing.k_studies, "study", "studies")
        raise DesignError(f"{told}: too few to show how the answer gathered")
    used = weighing.studies[weighing.studies["used"]].reset_index(drop=True)
    years = used["year"].astype(float)
    keys = {"size": used["variance"]}
    if years.notna().sum() > 1:
        keys = {"year": years.fillna(np.inf), **keys}
    model, tables = weighing.question.model, []
    for order, key in keys.items():
        found = accumulate(
            used["effect"],
            used["variance"],
            order=key,
            between=model.between,
            interval=model.interval,
            level=weighing.level,
        )
        tables.append(
            pd.DataFrame(
                {
                    "order": order,
                    "studies": np.arange(1, len(used) + 1),
                    "label": used["label"].to_numpy()[found.added],
                    "estimate": found.pooled.estimate,
                    "low": found.pooled.low,
                    "high": found.pooled.high,
                }
            )
        )
    return Gathering(weighing, pd.concat(tables, ignore_index=True))


def gathering_data(found: Gathering) -> GatheringData:
    """What the picture of gathering studies shows, in display units."""
    weighing, rows = found.weighing, []
    for row in found.steps.itertuples():
        low, high = ends_shown(weighing, row.low, row.high)
        estimate = float(weighing.scale.shown(row.estimate))
        rows.append((ORDERS[row.order], row.studies, row.label, estimate, low, high))
    invented = ("Invented data, for demonstration.",) if weighing.invented else ()
    return GatheringData(
        title="How does the answer settle as studies gather?",
        subtitle=found.sentence,
        notes=(*invented, ONE_EFFECT),
        axis=effect_axis(weighing),
        steps=pd.DataFrame(rows, columns=["order", "studies", "label", "estimate", "low", "high"]),
        level=weighing.level,
    )
