"""How much each study bends an answer, by the very method of the weighing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.errors import DesignError
from steelyard.pooling.influence import study_influence
from steelyard.pooling.pictures import BendingData
from steelyard.pooling.side_words import sides_of
from steelyard.pooling.turns import without_each_study
from steelyard.pooling.weighing import Weighing
from steelyard.show import Table, count, number

FEWEST_STUDIES = 3
FAR = 2.0  # studentised residuals: one in twenty lies beyond with nothing amiss
COLUMNS = ("study", "weight", "distance from the others", "Cook's distance", "SD between studies")


@dataclass(frozen=True, slots=True, eq=False)
class Bending:
    """Influence of each pooled study.

    Attributes
    ----------
    weighing : Weighing
    studies : DataFrame, the one that bends most first
        ``study, label, weight`` (fraction), ``residual`` (externally studentised), ``cook``
        (Cook's distance), ``shift`` (answer without it less the answer with all; machine
        scale), ``tau2`` (without it) and ``tau2_change``.
    """

    weighing: Weighing
    studies: pd.DataFrame

    @property
    def sentence(self) -> str:
        """Which studies lie far from the others, and what the one that bends most does."""
        far = self.studies[self.studies["residual"].abs() > FAR]
        most = self.studies.iloc[0]
        expected = max(1, round(len(self.studies) / 20))
        if far.empty:
            text = "No study lies far from the others"
        else:
            names = " and ".join(far["label"].head(3))
            more = f" and {len(far) - 3} more" if len(far) > 3 else ""
            verb = "lies" if len(far) == 1 else "lie"
            chance = ", no more than chance gives" if len(far) <= expected else ""
            text = f"{names}{more} {verb} far from the others{chance}"
        moved = np.sqrt(most["cook"])
        who = "it" if list(far["label"]) == [most["label"]] else most["label"]
        text += f"; {who} bends the answer most, by {number(moved)} of its standard error"
        now = float(np.sqrt(self.weighing.tau2))
        without = float(np.sqrt(most["tau2"]))
        if now > 0 and without < now / 2:
            text += (
                ", and without it studies would differ less than half as much "
                f"(SD {number(without, decimals=3)} instead of {number(now, decimals=3)})"
            )
        return f"{text}."

    def table(self) -> Table:
        """A row per study."""
        rows = tuple(
            (
                row.label,
                f"{number(100 * row.weight, decimals=0)} %",
                number(row.residual, sign=True),
                number(row.cook),
                f"{number(np.sqrt(row.tau2), decimals=3)} without it",
            )
            for row in self.studies.itertuples()
        )
        now = number(np.sqrt(self.weighing.tau2), decimals=3)
        notes = (
            "Distance: the study less the answer of all others, in the standard deviations that "
            "chance and the others' differences allow (studentised residual); beyond ±2 is far.",
            "Cook's distance: the squared move of the answer without the study, in units of its "
            "variance.",
            f"With every study the SD between studies is {now}.",
        )
        return Table("How much each study bends the answer", COLUMNS, rows, notes)

    def __str__(self) -> str:
        return str(self.table())

    def _repr_html_(self) -> str:
        return self.table()._repr_html_()


def bending(weighing: Weighing) -> Bending:
    """Influence of each study.

    Parameters
    ----------
    weighing : Weighing

    Returns
    -------
    Bending

    Raises
    ------
    DesignError
        With fewer than three pooled studies.

    Notes
    -----
    With one effect per study, `study_influence`. In a multilevel pool the answers without each
    study are those of `without_each_study`; the residual holds the study's composite against
    them, with the variance between and, shared among its effects, within studies, and Cook's
    distance takes the robust standard error.
    """
    if weighing.k_studies < FEWEST_STUDIES:
        told = count(weighing.k_studies, "study", "studies")
        raise DesignError(f"{told}: too few to say which one bends the answer")
    used = weighing.studies[weighing.studies["used"]].reset_index(drop=True)
    table = used[["study", "label", "weight"]].copy()
    if weighing.dependence == "multilevel":
        table = table.assign(**_from_turns(weighing, used))
    else:
        found = study_influence(
            used["effect"], used["variance"], between=weighing.question.model.between
        )
        table["residual"], table["cook"] = found.residual, found.cook
        table["shift"], table["tau2"] = found.shift, found.tau2 + found.tau2_change
        table["tau2_change"] = found.tau2_change
    order = np.argsort(-table["cook"].to_numpy(), kind="stable")
    return Bending(weighing, table.iloc[order].reset_index(drop=True))


def _from_turns(weighing: Weighing, used: pd.DataFrame) -> dict:
    without, pooled = without_each_study(weighing), weighing.pooled
    within = without["within"] / used["n_effects"]
    spread = used["variance"] + without["tau2"] - without["within"] + within
    spread += without["standard_error"] ** 2
    return {
        "residual": (used["effect"] - without["estimate"]) / np.sqrt(spread),
        "cook": (without["shift"] / pooled.standard_error) ** 2,
        "shift": without["shift"],
        "tau2": without["tau2"],
        "tau2_change": without["tau2"] - pooled.tau2,
    }


def bending_data(found: Bending) -> BendingData:
    """What the picture of influence shows."""
    studies, both = found.studies, sides_of(found.weighing)
    return BendingData(
        title="Which study bends the answer?",
        subtitle=found.sentence,
        notes=("Invented data, for demonstration.",) if found.weighing.invented else (),
        studies=pd.DataFrame(
            {
                "study": studies["study"],
                "label": studies["label"],
                "distance": studies["residual"],
                "move": np.sqrt(studies["cook"]),
                "weight": 100 * studies["weight"],
            }
        ),
        below=both.below,
        above=both.above,
        far=FAR,
    )
