"""Which picture is drawn from which invented data, usual and unusual."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from steelyard import charts
from tests.charts import invented_lay as lay
from tests.charts import invented_lines as lines
from tests.charts import invented_pictures as invented

CASES = {
    "funnel": (charts.funnel_plot, invented.invented_funnel),
    "funnel of ratios": (charts.funnel_plot, lambda: invented.invented_funnel(9, kind="log")),
    "funnel of two": (charts.funnel_plot, lambda: invented.invented_funnel(2)),
    "dose": (charts.dose_plot, invented.invented_dose),
    "choices": (charts.choices_plot, invented.invented_choices),
    "few choices": (charts.choices_plot, lambda: invented.invented_choices((2, 2, 1, 3, 1, 1))),
    "turns": (charts.turns_plot, invented.invented_turns),
    "many turns": (charts.turns_plot, lambda: invented.invented_turns(45)),
    "bending": (charts.bending_plot, lines.invented_bending),
    "bending of sixty": (charts.bending_plot, lambda: lines.invented_bending(60)),
    "gathering": (charts.gathering_plot, lines.invented_gathering),
    "gathering of sixty": (charts.gathering_plot, lambda: lines.invented_gathering(60)),
    "gathering in one order": (charts.gathering_plot, lambda: lines.invented_gathering(5, 1)),
    "priors": (charts.priors_plot, lines.invented_priors),
    "history": (charts.history_plot, invented.invented_history),
    "history untold": (charts.history_plot, lambda: invented.invented_history(told=False)),
    "belief": (charts.belief_plot, invented.invented_belief),
    "belief without priors": (
        charts.belief_plot,
        lambda: invented.invented_belief(priors=False),
    ),
    "overview": (charts.overview_plot, invented.invented_overview),
    "overview of three": (charts.overview_plot, lambda: invented.invented_overview(3)),
    "overview of thirty": (charts.overview_plot, lambda: invented.invented_overview(30)),
    "concern": (charts.concern_plot, invented.invented_concern),
    "nearness": (charts.nearness_plot, invented.invented_nearness),
    "tested dose": (charts.tested_dose_plot, invented.invented_tested_dose),
    "hundred": (charts.hundred_plot, lay.invented_hundred),
    "hundred alike": (charts.hundred_plot, lambda: lay.invented_hundred(0, 100, 0)),
    "hills": (charts.hills_plot, lay.invented_hills),
    "hills, client unknown": (charts.hills_plot, lambda: lay.invented_hills(math.nan)),
    "hills, client outside": (charts.hills_plot, lambda: lay.invented_hills(402.0)),
    "strip": (charts.strip_plot, lay.invented_strip),
    "strip, no mark": (charts.strip_plot, lambda: lay.invented_strip(worthwhile=math.nan)),
    "plain forest": (charts.plain_forest, lay.invented_plain_forest),
    "plain forest of one": (charts.plain_forest, lambda: lay.invented_plain_forest(1)),
}
RATIOS = ("estimate", "low", "high")


def as_ratios(table):
    return table.assign(**{column: np.exp(table[column]) for column in RATIOS})


def bent(make, **changes):
    """Invented data with some fields changed by functions of the whole."""
    data = make()
    return dataclasses.replace(data, **{name: change(data) for name, change in changes.items()})


def without_bounds(name):
    return {name: lambda data: getattr(data, name).assign(low=math.nan, high=math.nan)}


def with_first_at(name, column, value):
    def change(data):
        table = getattr(data, name).copy()
        table.loc[0, column] = value
        return table

    return {name: change}


def without_zone(data):
    return dataclasses.replace(data.axis, zone=None)


def on_ratios(data):
    return invented.COMPLAINTS


BENT = {
    "dose of ratios": (
        charts.dose_plot,
        invented.invented_dose,
        {
            "axis": on_ratios,
            "points": lambda data: as_ratios(data.points),
            "forms": lambda data: tuple(
                dataclasses.replace(form, curve=as_ratios(form.curve)) for form in data.forms
            ),
        },
    ),
    "dose of one": (
        charts.dose_plot,
        invented.invented_dose,
        {"points": lambda data: data.points.head(1), "forms": lambda data: data.forms[1:2]},
    ),
    "dose, no bounds": (charts.dose_plot, invented.invented_dose, without_bounds("points")),
    "history of ratios": (
        charts.history_plot,
        lambda: invented.invented_history(told=False),
        {"axis": on_ratios, "years": lambda data: as_ratios(data.years)},
    ),
    "history of one": (
        charts.history_plot,
        lambda: invented.invented_history(told=False),
        {"years": lambda data: data.years.head(1), "axis": without_zone},
    ),
    "history, no bounds": (
        charts.history_plot,
        invented.invented_history,
        without_bounds("years"),
    ),
    "choices of ratios": (
        charts.choices_plot,
        lambda: invented.invented_choices((2, 2, 2, 1, 1, 1)),
        {"axis": on_ratios, "ways": lambda data: as_ratios(data.ways)},
    ),
    "choices, no bounds": (charts.choices_plot, invented.invented_choices, without_bounds("ways")),
    "turns of ratios": (
        charts.turns_plot,
        invented.invented_turns,
        {
            "axis": on_ratios,
            "without": lambda data: as_ratios(data.without),
            "estimate": lambda data: 1.31,
            "low": lambda data: 1.16,
            "high": lambda data: 1.48,
        },
    ),
    "turns, no bounds": (
        charts.turns_plot,
        invented.invented_turns,
        {"low": lambda data: math.nan, "high": lambda data: math.nan} | without_bounds("without"),
    ),
    "funnel without zone": (
        charts.funnel_plot,
        invented.invented_funnel,
        {"axis": without_zone, "funnel": lambda data: data.funnel.head(0)},
    ),
    "funnel with one far out": (
        charts.funnel_plot,
        invented.invented_funnel,
        with_first_at("studies", "estimate", 9.0),
    ),
    "belief without zone": (
        charts.belief_plot,
        invented.invented_belief,
        {"axis": without_zone},
    ),
    "overview, nothing known": (
        charts.overview_plot,
        invented.invented_overview,
        {
            "recommendations": lambda data: data.recommendations.assign(
                **dict.fromkeys((*RATIOS, "prediction_low", "prediction_high"), math.nan),
                certainty="not judged",
            )
        },
    ),
    "overview with one far out": (
        charts.overview_plot,
        invented.invented_overview,
        with_first_at("recommendations", ["estimate", "low", "high"], [90.0, 60.0, 120.0]),
    ),
    "plain forest, no bounds": (
        charts.plain_forest,
        lay.invented_plain_forest,
        {"low": lambda data: math.nan, "high": lambda data: math.nan} | without_bounds("studies"),
    ),
    "plain forest with one far out": (
        charts.plain_forest,
        lay.invented_plain_forest,
        with_first_at("studies", ["estimate", "low", "high"], [9.0, 5.0, 12.0]),
    ),
}
