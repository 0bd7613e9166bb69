"""A small trial that prints each of its outcomes in another way that journals allow.

No question takes its arms, and nothing is true in it: it is there for how it prints. The outcome
whose test is only called not significant has no number that anything could be made of.
"""

from __future__ import annotations

from dataclasses import replace

from tests.invented.measures import ACTIVATION, SORENESS
from tests.invented.plan import ArmPlan, ComparisonPlan, OutcomePlan, ResultPlan, StudyPlan
from tests.invented.slow_lowering_trials import parallel, people

DOSE = {"sessions_per_week": 2, "sets_per_week": 8, "reps": (8, 12), "reps_in_reserve": 2}
WEEK = 8


def activation(site: str) -> OutcomePlan:
    return replace(ACTIVATION, id=f"{site}-activation", site=site, label=f"activation, {site}")


def soreness(days: str) -> OutcomePlan:
    label = f"soreness after {days} days"
    return replace(SORENESS, id=f"soreness-{days}-days", measure=label, label=label)


def between(outcome: OutcomePlan, prints: str, where: str) -> ComparisonPlan:
    return ComparisonPlan(outcome.id, "two-minutes", "three-minutes", WEEK, prints, where)


HAMSTRINGS, QUADRICEPS, LEG, THIGH = (
    activation(site) for site in ("hamstrings", "quadriceps", "leg", "thigh")
)
TWO, THREE, FOUR = (soreness(days) for days in ("two", "three", "four"))

PLANS = (
    StudyPlan(
        "wherrygate-2022",
        (("Wherrygate", "D."), ("Yarrowby", "I.")),
        2022,
        "Invented: soreness and muscle activation after two minutes or three between sets",
        parallel(equated="weekly sets"),
        people("club rowers", "mixed", 44, "recreational"),
        (
            ArmPlan("two-minutes", "120 s rests", ("middle-rest",), 23, 0.0, DOSE),
            ArmPlan("three-minutes", "180 s rests", ("long-rest",), 22, 0.0, DOSE),
        ),
        (SORENESS, HAMSTRINGS, QUADRICEPS, LEG, TWO, THREE, FOUR, THIGH),
        (
            ResultPlan(
                SORENESS.id, WEEK, "pre:median,iqr,range post:median,iqr,range", "Table 2, p. 5"
            ),
            ResultPlan(HAMSTRINGS.id, WEEK, "pre:mean,sd change:mean,p", "Table 3, p. 6"),
            ResultPlan(
                THIGH.id,
                WEEK,
                {
                    "two-minutes": "pre:groups-se post:groups-ci95",
                    "three-minutes": "pre:groups-ci90 post:groups-ci99",
                },
                "Table 4, p. 7",
            ),
        ),
        (
            between(QUADRICEPS, "difference:se", "Results, p. 6"),
            between(LEG, "difference:ci90", "Results, p. 6"),
            between(TWO, "standardised:ci95,over-pre-sd", "Results, p. 7"),
            between(THREE, "standardised:over-pre-sd p", "Results, p. 7"),
            between(FOUR, "p-not-significant", "Abstract"),
        ),
    ),
)
