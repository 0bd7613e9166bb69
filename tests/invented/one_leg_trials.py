"""Trials of leg work one leg at a time against both legs together."""

from __future__ import annotations

from dataclasses import replace

from tests.invented.measures import PRESS_KG
from tests.invented.plan import ArmPlan, ComparisonPlan, ResultPlan, StudyPlan
from tests.invented.slow_lowering_trials import parallel, people

DOSE = {"sessions_per_week": 2, "sets_per_week": 8, "reps": (6, 10), "rest_s": 120}
EQUATED = "weekly sets for each leg"
WITHIN = {
    "kind": "within-person",
    "randomised": True,
    "blinded_assessors": True,
    "equated": EQUATED,
    "cross_education": "Strength crosses over, which draws the legs together (Discussion, p. 9)",
}


def arms(one: int, two: int, *, lost: tuple[int, int] = (0, 0)):
    return (
        ArmPlan("one", "one leg at a time", ("one-leg",), one, 1.0, DOSE, lost[0]),
        ArmPlan("two", "both legs together", ("two-legs",), two, 0.0, DOSE, lost[1]),
    )


PLANS = (
    StudyPlan(
        "hazelmire-2014",
        (("Hazelmire", "K."),),
        2014,
        "Invented: a split press that loads one pedal or both",
        WITHIN,
        people("masters rowers", "mixed", 46, "trained"),
        arms(17, 17),
        (replace(PRESS_KG, shows_r_between_arms=True),),
        (
            ResultPlan(
                "one-leg-press-1rm",
                10,
                "pre:mean,sd change:mean,sd",
                "Table 2, p. 6",
                comment="One leg worked alone; the other only while both pedals moved.",
            ),
        ),
    ),
    StudyPlan(
        "ivelsham-2016",
        (("Ivelsham", "L."), ("Kelder", "M.")),
        2016,
        "Invented: the difference between two legs of the same rower",
        WITHIN | {"blinded_assessors": False},
        people("club rowers", "male", 38, "recreational"),
        arms(15, 15),
        (PRESS_KG,),
        (),
        (
            ComparisonPlan(
                "one-leg-press-1rm",
                "one",
                "two",
                8,
                "difference:sd",
                "Results, p. 5",
                comment="The SD is that of people's own differences.",
                shows_n=True,
            ),
        ),
        conduct="patchy",
    ),
    StudyPlan(
        "kelderby-2018",
        (("Kelderby", "M."),),
        2018,
        "Invented: one leg or two in parallel groups",
        parallel(equated=EQUATED),
        people("masters rowers", "female", 48, "trained"),
        arms(21, 20, lost=(1, 1)),
        (PRESS_KG,),
        (ResultPlan("one-leg-press-1rm", 12, "pre:mean,sd post:mean,sd", "Table 2, p. 5"),),
    ),
    StudyPlan(
        "larkmere-2020",
        (("Larkmere", "N."), ("Morven", "P.")),
        2020,
        "Invented: leg work for rowers who sit all day",
        parallel(equated=EQUATED, blinded_assessors=False),
        people("office workers who row", "mixed", 42, "untrained", 10.4),
        arms(18, 19),
        (PRESS_KG,),
        (
            ResultPlan(
                "one-leg-press-1rm",
                12,
                "pre:mean,sd change:mean,ci99",
                "Table 3, p. 6",
                "table",
            ),
        ),
        conduct="patchy",
        source={"type": "thesis", "container-title": "Invented University Theses"},
    ),
    StudyPlan(
        "morvenside-2022",
        (("Morvenside", "P."),),
        2022,
        "Invented: both programmes in turn, order by lot",
        {
            "kind": "crossover",
            "randomised": True,
            "blinded_assessors": True,
            "equated": EQUATED,
            "carry_over": "Twelve weeks between periods; scores were back at the start (p. 5)",
        },
        people("masters rowers", "mixed", 51, "trained"),
        arms(16, 16),
        (PRESS_KG,),
        (ResultPlan("one-leg-press-1rm", 8, "pre:mean,sd post:mean,sd", "Table 2, p. 5"),),
    ),
    StudyPlan(
        "nettlewater-2023",
        (("Nettlewater", "R."), ("Larkmere", "N.")),
        2023,
        "Invented: one leg or two, with exact p beside each interval",
        parallel(equated=EQUATED),
        people("club rowers of two invented lakes", "mixed", 44, "trained"),
        arms(23, 23, lost=(0, 2)),
        (PRESS_KG,),
        (),
        (
            ComparisonPlan(
                "one-leg-press-1rm",
                "one",
                "two",
                12,
                "difference:ci99 p",
                "Figure 2, p. 6",
                "figure",
            ),
        ),
    ),
)
