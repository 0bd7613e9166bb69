"""Trials of the number of weekly sets, for thigh size."""

from __future__ import annotations

from dataclasses import replace

from tests.invented.measures import AREA_CM2, SETS, THICKNESS_MM
from tests.invented.plan import ArmPlan, ResultPlan, StudyPlan
from tests.invented.slow_lowering_trials import parallel, people

THICKNESS = replace(THICKNESS_MM, truth=SETS)
AREA = replace(AREA_CM2, truth=SETS)
EQUATED = "load and closeness to failure"


def arm(sets: int, n: int, *, lost: int = 0, **dose) -> ArmPlan:
    """One arm; two sessions a week unless said."""
    facts = {"sessions_per_week": 2, "sets_per_week": sets, "reps": (8, 12)}
    return ArmPlan(
        f"sets-{sets}",
        f"{sets} sets a week",
        ("weekly-sets",),
        n,
        1.0,
        facts | {"load_percent_1rm": 70, "reps_in_reserve": 1} | dose,
        lost,
    )


def split(direct: int, indirect: int) -> dict[str, int]:
    """How many of an arm's sets are for the thigh itself, and how many train it in passing."""
    return {"direct_sets_per_week": direct, "indirect_sets_per_week": indirect}


PLANS = (
    StudyPlan(
        "zealbeck-2015",
        (("Zealbeck", "A."),),
        2015,
        "Invented: four, eight or twelve sets a week",
        parallel(equated=EQUATED),
        people("first-year lifters", "mixed", 37, "untrained"),
        (arm(4, 20), arm(8, 21), arm(12, 20)),
        (THICKNESS,),
        (ResultPlan("thigh-thickness", 12, "pre:mean,sd post:mean,sd", "Table 2, p. 5"),),
        conduct="patchy",
    ),
    StudyPlan(
        "birchwater-2017",
        (("Birchwater", "L."), ("Cinder", "W.")),
        2017,
        "Invented: six, twelve or eighteen sets, with magnetic resonance images",
        parallel(equated=EQUATED, scores={"invented ten-item scale": "8 of 10"}),
        people("masters rowers", "male", 45, "trained"),
        (arm(6, 24, lost=1), arm(12, 24), arm(18, 23, lost=2)),
        (AREA,),
        (
            ResultPlan(
                "thigh-area",
                16,
                "pre:mean,sd change:mean,sd r",
                "Table 2, p. 6",
                checked_by="second reader, Tarnside",
            ),
        ),
    ),
    StudyPlan(
        "cindermoor-2018",
        (("Cindermoor", "W."),),
        2018,
        "Invented: five or ten sets a week",
        parallel(equated=EQUATED),
        people("recreational lifters", "female", 34, "recreational"),
        (arm(5, 32), arm(10, 31)),
        (THICKNESS,),
        (ResultPlan("thigh-thickness", 12, "pre:mean,ci90 post:mean,ci90", "Table 2, p. 4"),),
    ),
    StudyPlan(
        "dulwater-2019",
        (("Dulwater", "C."), ("Elmscar", "D.")),
        2019,
        "Invented: few sets for one thigh, many for the other",
        {
            "kind": "within-person",
            "randomised": True,
            "blinded_assessors": True,
            "equated": EQUATED,
            "cross_education": "Little is known of growth crossing over; taken as none (p. 7)",
        },
        people("masters rowers", "mixed", 43, "trained"),
        (arm(4, 26, order="first in each session"), arm(12, 26, order="after the other thigh")),
        (replace(THICKNESS, shows_r_between_arms=True),),
        (ResultPlan("thigh-thickness", 10, "pre:mean,sd change:mean,sd", "Table 2, p. 6"),),
    ),
    StudyPlan(
        "elmscar-2021",
        (("Elmscar", "D."), ("Foxmarsh", "G."), ("Grey", "J.")),
        2021,
        "Invented: three, six, twelve or twenty sets a week",
        parallel(equated=EQUATED),
        people("club lifters", "mixed", 40, "trained"),
        (
            arm(3, 27, **split(3, 0)),
            arm(6, 26, **split(5, 1)),
            arm(12, 27, **split(9, 3)),
            arm(20, 26, lost=2, **split(14, 6)),
        ),
        (AREA,),
        (
            ResultPlan(
                "thigh-area",
                14,
                "pre:mean,se post:mean,se",
                "Table 3, p. 6",
                comment="Four arms: each is compared with the lowest dose.",
            ),
        ),
    ),
    StudyPlan(
        "foxmarsh-2022",
        (("Foxmarsh", "G."),),
        2022,
        "Invented: weekly sets and growth in percent of people's own start",
        parallel(equated=EQUATED),
        people("rowers over 50", "mixed", 57, "recreational"),
        (arm(5, 25), arm(10, 25), arm(15, 24)),
        (AREA,),
        (ResultPlan("thigh-area", 12, "pre:mean,sd change_percent:mean,sd", "Table 2, p. 5"),),
    ),
    StudyPlan(
        "greywick-2024",
        (("Greywick", "J."), ("Hazelmire", "K.")),
        2024,
        "Invented: eight, sixteen or twenty-four sets in experienced lifters",
        parallel(equated=EQUATED),
        people("lifters of ten years and more", "male", 39, "highly-trained"),
        (
            arm(8, 22, **split(6, 2)),
            arm(16, 22, **split(12, 4)),
            arm(24, 21, lost=1, **split(16, 8)),
        ),
        (THICKNESS,),
        (ResultPlan("thigh-thickness", 12, "pre:mean,sd change:mean,se", "Table 2, p. 5"),),
    ),
)
