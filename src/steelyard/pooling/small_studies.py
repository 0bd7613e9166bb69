"""What may be missing: whether small studies tell another story than large ones."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtri

from steelyard.errors import DesignError
from steelyard.pooling.effect_axis import effect_axis
from steelyard.pooling.funnel import Funnel, funnel
from steelyard.pooling.pictures import FunnelData
from steelyard.pooling.selection_model import SelectionModel, selection_model
from steelyard.pooling.small_study_regression import SmallStudyRegression
from steelyard.pooling.small_study_test import ENOUGH, ENTERED, SmallStudyTest, small_study_test
from steelyard.pooling.trim_and_fill import TrimAndFill, trim_and_fill
from steelyard.pooling.weighing import Weighing
from steelyard.records.question import RATIO_METRICS
from steelyard.show import Shown, count, number, p_text

# Usual for tests of asymmetry, whose power is low (Sterne et al. 2011).
REMARKABLE_P = 0.10
IMPRECISE = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class SmallStudies(Shown):
    """Signs that small studies differ from large ones; silent or hedged under ten.

    Attributes
    ----------
    weighing : Weighing
    shape : Funnel
    test : SmallStudyTest or None
    filled : TrimAndFill or None
    selection : SelectionModel or None
    why_not : dict of str to str
        By method, why it says nothing.
    """

    weighing: Weighing
    shape: Funnel
    test: SmallStudyTest | None
    filled: TrimAndFill | None
    selection: SelectionModel | None
    why_not: dict[str, str]

    @property
    def sentence(self) -> str:
        """What the shape of the evidence says about what may be missing."""
        k = len(self.shape.effect)
        if k < ENOUGH:
            return (
                f"With {count(k, 'study', 'studies')}, whether small studies differ from large "
                f"ones, or results were held back, cannot be told: that takes {ENOUGH} or more."
            )
        parts = []
        if self.test is not None:
            parts.append(self._by_size(self.test, k))
        show = self.weighing
        if self.filled is not None and self.filled.added:
            parts.append(
                f"with {count(self.filled.added, 'study', 'studies')} filled in for evenness the "
                f"answer would be {show.text(self.filled.estimate)}"
            )
        if self.selection is not None:
            parts.append(
                "allowing for results found less easily without a low p, it would be "
                f"{show.text(self.selection.estimate)}{self._imprecise()}"
            )
        silent = self.why_not.get("small-study test")
        if silent:
            parts.insert(0, f"whether small studies tell another story cannot be told ({silent})")
        if not parts:
            parts = [f"no method gives an answer: {'; '.join(self.why_not.values())}"]
        return f"{parts[0][0].upper()}{'; '.join(parts)[1:]}."

    def _by_size(self, test: SmallStudyTest, k: int) -> str:
        """What the test shows; a large p shows no sameness, an interval near the answer does."""
        found, show = test.regression, self.weighing
        told = p_text(found.p)
        if test.left_out:
            told += f"; {found.k} of {k} studies, the others do not say how many took part"
        loose = ""
        if found.p < REMARKABLE_P:
            first = f"small studies tell another story than large ones ({told})"
        elif alike_by_size(found, show):
            first = f"small and large studies do not differ by enough to matter ({told})"
        else:
            first = (
                "whether small studies tell another story than large ones cannot be told from "
                f"these ({told})"
            )
            loose = ", too loose to lean on,"
        return (
            f"{first}: their trend{loose} would put the average of very large studies at "
            f"{show.text(found.limit)} ({show.span(found.limit_low, found.limit_high)}), where all "
            f"together say {show.text(show.estimate)}"
        )

    def _imprecise(self) -> str:
        """A caution where the selection model's own numbers do not carry its estimate.

        Its test finds no selection, or its interval is unknown or half as wide again as the
        pool's own (own rule).
        """
        found, pooled = self.selection, self.weighing.pooled
        width = found.high - found.low
        wide = not width <= IMPRECISE * (pooled.high - pooled.low)
        return ", too imprecise to lean on" if wide or not found.p < REMARKABLE_P else ""

    def _title(self) -> str:
        return f"What may be missing: {self.weighing.question.id}"

    def _rows(self) -> list[tuple[str, str]]:
        show, rows = self.weighing, [("in short", self.sentence)]
        if self.test is not None:
            found = self.test.regression
            told = f"t {number(found.t)} on {found.df} df, {p_text(found.p)}; {self.test.on}"
            if self.test.left_out:
                names = ", ".join(self.test.left_out)
                told += f"; left out, as people are not known in both arms: {names}"
            rows.append(("small-study test", told))
        if self.filled is not None:
            entered = self.weighing.question.metric in ENTERED
            rows.append(
                (
                    "trim and fill",
                    f"{count(self.filled.added, 'study', 'studies')} added; "
                    f"{show.text(self.filled.estimate)} "
                    f"({show.span(self.filled.low, self.filled.high)})"
                    f"{'; by standard errors, which the effect enters' if entered else ''}",
                )
            )
        if self.selection is not None:
            found = self.selection
            span = (
                f" ({show.span(found.low, found.high)})"
                if np.isfinite([found.low, found.high]).all()
                else ""
            )
            rows.append(
                (
                    "selection model",
                    f"{show.text(found.estimate)}{span}; {p_text(found.p)} against no selection",
                )
            )
        return rows + [(name, f"not given: {why}") for name, why in self.why_not.items()]


def alike_by_size(found: SmallStudyRegression, weighing: Weighing) -> bool:
    """Whether the whole interval at unlimited size lies near enough to the answer.

    Nearer than the smallest worthwhile effect (own rule); never without one.
    """
    ends = np.array([found.limit_low, found.limit_high]) - weighing.estimate
    return weighing.worthwhile is not None and bool((abs(ends) < weighing.worthwhile).all())


def small_studies(weighing: Weighing) -> SmallStudies:
    """Look for signs of missing or differing small studies, one row per study.

    With fewer than ten studies no method speaks; the funnel alone is drawn.

    Parameters
    ----------
    weighing : Weighing

    Returns
    -------
    SmallStudies
    """
    studies = weighing.studies[weighing.studies["used"]]
    y, v = studies["effect"].to_numpy(float), studies["variance"].to_numpy(float)
    shape, why = funnel(y, v), {}
    found: dict[str, object] = {}
    methods = {
        "small-study test": lambda: small_study_test(weighing),
        "trim and fill": lambda: trim_and_fill(y, v, between=_estimator(weighing)),
        "selection model": lambda: selection_model(y, v),
    }
    for name, method in methods.items():
        if len(y) < ENOUGH:
            why[name] = f"{count(len(y), 'study', 'studies')}; it takes {ENOUGH} or more"
            continue
        try:
            found[name] = method()
        except DesignError as refused:
            why[name] = str(refused)
    return SmallStudies(
        weighing,
        shape,
        found.get("small-study test"),
        found.get("trim and fill"),
        found.get("selection model"),
        why,
    )


def _estimator(weighing: Weighing) -> str:
    return weighing.question.model.between


def funnel_data(found: SmallStudies) -> FunnelData:
    """What the funnel picture shows.

    Effects in display units; standard errors on the scale that the pooling used.
    """
    weighing = found.weighing
    shown = weighing.scale.shown
    table = weighing.studies
    points = pd.DataFrame(
        {
            "study": table["study"],
            "label": table["label"],
            "estimate": shown(table["effect"].to_numpy(float)),
            "standard_error": np.sqrt(table["variance"].to_numpy(float)),
            "weight": 100 * table["weight"].to_numpy(float),
            "flags": table["flags"],
            "pooled": table["used"],
        }
    )
    down = np.linspace(0, 1.05 * float(points["standard_error"].max()), 41)
    contours = {"standard_error": down}
    for level in (90, 95, 99):
        reach = float(ndtri(0.5 + level / 200)) * down
        ends = np.sort(np.column_stack([shown(-reach), shown(reach)]), axis=1)
        contours[f"low_{level}"], contours[f"high_{level}"] = ends[:, 0], ends[:, 1]
    reach = float(ndtri(0.975)) * down
    sides = np.sort(
        np.column_stack([shown(weighing.estimate - reach), shown(weighing.estimate + reach)]),
        axis=1,
    )
    filled = found.filled
    added = filled is not None and filled.added > 0
    return FunnelData(
        title="Do small studies tell another story?",
        subtitle=found.sentence,
        notes=_notes(found),
        axis=effect_axis(weighing),
        studies=points.reset_index(drop=True),
        filled=pd.DataFrame(
            {
                "estimate": shown(filled.effects) if added else [],
                "standard_error": np.sqrt(filled.variances) if added else [],
            },
            dtype=float,
        ),
        contours=pd.DataFrame(contours),
        funnel=pd.DataFrame({"standard_error": down, "low": sides[:, 0], "high": sides[:, 1]}),
        estimate=float(shown(weighing.estimate)),
        estimate_filled=float(shown(filled.estimate)) if added else float("nan"),
        error_title=_error_title(weighing),
    )


def _error_title(weighing: Weighing) -> str:
    metric = weighing.question.metric
    if metric in RATIO_METRICS:
        return "standard error, log scale"
    return "standard error of z" if metric == "correlation" else "standard error"


def _notes(found: SmallStudies) -> tuple[str, ...]:
    notes = ["Invented data, for demonstration."] if found.weighing.invented else []
    notes += [f"No {name}: {why}." for name, why in found.why_not.items()]
    return tuple(notes)
