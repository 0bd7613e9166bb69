"""A small trial of many outcomes: what one paper measures when it measures everything.

No question takes its arms (a middling rest is neither short nor long), and nothing is true in it:
any difference it shows is chance, which is what it is for. The name seeds the draw, and was chosen
among a hundred so that all nine outcomes point the same way and two of them would pass a test.
"""

from __future__ import annotations

from dataclasses import replace

from tests.invented.measures import (
    ACTIVATION,
    AREA_CM2,
    DEADLIFT_KG,
    EXTENSION_KG,
    FLEXION_N,
    FLEXION_NM,
    PRESS_KG,
    THICKNESS_MM,
)
from tests.invented.plan import ArmPlan, ResultPlan, StudyPlan
from tests.invented.slow_lowering_trials import parallel, people

DOSE = {"sessions_per_week": 2, "sets_per_week": 10, "reps": (8, 12), "reps_in_reserve": 2}
MEASURED = tuple(
    replace(outcome, truth=None)
    for outcome in (
        EXTENSION_KG,
        PRESS_KG,
        DEADLIFT_KG,
        FLEXION_N,
        FLEXION_NM,
        replace(
            FLEXION_N,
            id="knee-extension-peak",
            site="quadriceps",
            mean=480,
            sd=105,
            label="isometric knee extension",
        ),
        THICKNESS_MM,
        AREA_CM2,
        replace(
            THICKNESS_MM,
            id="hamstring-thickness",
            site="hamstrings",
            measure="ultrasound, back of the thigh at half its length",
            mean=30.1,
            sd=4.6,
            label="hamstring thickness",
        ),
        replace(ACTIVATION, decimals=1),
    )
)

PLANS = (
    StudyPlan(
        "overby-2019",
        (("Overby", "P."), ("Sallowby", "T."), ("Thornmere", "E.")),
        2019,
        "Invented: two minutes or three between sets, and everything one can measure",
        parallel(equated="weekly sets"),
        people("club rowers", "mixed", 47, "trained"),
        (
            ArmPlan(
                "two-minutes", "120 s rests", ("middle-rest",), 14, 1.0, DOSE | {"rest_s": 120}
            ),
            ArmPlan(
                "three-minutes", "180 s rests", ("long-rest",), 14, 0.0, DOSE | {"rest_s": 180}
            ),
        ),
        MEASURED,
        tuple(
            ResultPlan(
                outcome.id, 10, "pre:mean,sd post:mean,sd r", f"Table {2 + n // 4}, p. {5 + n // 4}"
            )
            for n, outcome in enumerate(MEASURED)
        ),
    ),
)
