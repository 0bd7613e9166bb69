"""Studies of slow lowering that something is odd about, each in another way."""

from __future__ import annotations

from dataclasses import replace

from tests.invented.measures import (
    ACTIVATION,
    DEADLIFT_KG,
    FLEXION_N,
    FLEXION_NM,
    SORENESS,
    STRAIN,
)
from tests.invented.plan import ArmPlan, ComparisonPlan, ResultPlan, StudyPlan
from tests.invented.slow_lowering_trials import ADDED_DOSE, arms, parallel, people

PLANS = (
    StudyPlan(
        "fenwold-2019",
        (("Fenwold", "M."),),
        2019,
        "Invented preprint: a standardised difference and nothing else",
        parallel(),
        people("not described beyond their club", "not reported", 42, "not reported"),
        arms(18, 18),
        (FLEXION_NM,),
        (),
        (
            ComparisonPlan(
                "knee-flexion-torque",
                "added",
                "usual",
                12,
                "standardised:se,over-pre-sd",
                "Letter of the authors, 2020",
                "authors",
                shows_n=True,
                notes={"denominator": "pooled SD before training, says the letter"},
            ),
        ),
        journal="Invented Preprints in Training",
        conduct="patchy",
        source={
            "type": "manuscript",
            "status": "preprint",
            "URL": "https://preprints.invented.example/fenwold-2019",
        },
    ),
    StudyPlan(
        "gorsemire-2020",
        (("Gorsemire", "Q."), ("Harrow", "U.")),
        2020,
        "Invented: every rower did both programmes, a winter apart",
        {
            "kind": "crossover",
            "randomised": True,
            "blinded_assessors": True,
            "equated": "sessions",
            "carry_over": "Sixteen weeks between periods; no sign of carry-over (p. 6)",
        },
        people("masters rowers", "mixed", 52, "trained"),
        arms(18, 18),
        (replace(FLEXION_N, shows_r_between_arms=True, r=0.85),),
        (
            ResultPlan(
                "knee-flexion-peak",
                8,
                "post:mean,sd",
                "Table 2, p. 6",
                comment="The arms are the two periods of the same people.",
            ),
        ),
    ),
    StudyPlan(
        "harrowmere-2020",
        (("Harrowmere", "X."), ("Thistlewick", "E.")),
        2020,
        "Invented, retracted: very large gains from slow lowering",
        parallel(),
        people("student rowers", "male", 22, "trained", 1.8),
        arms(20, 20),
        (FLEXION_N,),
        (ResultPlan("knee-flexion-peak", 12, "pre:mean,sd post:mean,sd", "Table 1, p. 3"),),
        journal="Invented Letters in Lifting",
        conduct="patchy",
        inflate=5.0,
        source={
            "status": "retracted",
            "status_note": "Withdrawn in 2022: the notebooks could not be shown",
        },
    ),
    StudyPlan(
        "inchmarsh-2021",
        (("Inchmarsh", "Y."),),
        2021,
        "Invented: standard errors under a heading that says SD",
        parallel(blinded_assessors=False),
        people("club rowers, two years of lifting", "mixed", 45, "recreational"),
        arms(22, 22),
        (FLEXION_N,),
        (
            ResultPlan(
                "knee-flexion-peak",
                12,
                "pre:mean,sd-is-se post:mean,sd-is-se",
                "Table 2, p. 4",
                comment="Copied as printed. The heading says SD; see the notes at the end.",
            ),
        ),
        conduct="patchy",
        comment="The spreads in Table 2 are far too small for knee flexion.",
        notes={
            "doubt": "SDs of 4 % of the mean: they may be standard errors. Authors asked twice."
        },
    ),
    StudyPlan(
        "juddlebeck-2021",
        (("Juddlebeck", "Z."), ("Kestrelmoor", "F.")),
        2021,
        "Invented: strength and day-after soreness in two small groups",
        parallel(),
        people("masters rowers new to lowering work", "female", 47, "recreational"),
        arms(16, 15, lost=(2, 1)),
        (FLEXION_N, SORENESS),
        (
            ResultPlan("knee-flexion-peak", 8, "pre:mean,sd post:mean,sd r", "Table 2, p. 5"),
            ResultPlan(
                "soreness",
                8,
                {
                    "added": "pre:mean,sd post:mean-impossible,sd",
                    "usual": "pre:mean,sd post:mean,sd",
                },
                "Table 3, p. 6",
                comment="Whole-number answers from 0 to 10.",
            ),
        ),
        conduct="patchy",
    ),
    StudyPlan(
        "kestrelmoor-2022",
        (("Kestrelmoor", "F."),),
        2022,
        "Invented: one club before and after a winter of slow lowering",
        {
            "kind": "single-group",
            "randomised": False,
            "blinded_assessors": False,
            "equated": "nothing",
        },
        people("one invented club", "mixed", 53, "mixed"),
        (
            ArmPlan(
                "added",
                "usual lifting plus slow lowering",
                ("slow-lowering",),
                29,
                1.0,
                ADDED_DOSE,
                4,
            ),
        ),
        (FLEXION_N,),
        (ResultPlan("knee-flexion-peak", 16, "pre:mean,sd post:mean,sd", "Table 1, p. 2"),),
        journal="Annals of Invented Rowing",
        conduct="poor",
        comment="No comparison group: kept to show that it is never pooled.",
    ),
    StudyPlan(
        "lintonby-2022",
        (("Lintonby", "G."), ("Mossbarrow", "V.")),
        2022,
        "Invented: Tuesday rowers against Thursday rowers",
        parallel(randomised=False, blinded_assessors=False, equated="not reported"),
        people("two evening groups of one club", "mixed", 46, "recreational"),
        arms(21, 23, lost=(4, 1)),
        (DEADLIFT_KG,),
        (
            ResultPlan(
                "straight-leg-lift-1rm",
                12,
                {
                    "added": "pre:mean,sd change:mean,p-bound",
                    "usual": "pre:mean,sd change:mean,p",
                },
                "Table 2, p. 4",
                comment="Only p-values stand beside the changes.",
            ),
        ),
        conduct="poor",
    ),
    StudyPlan(
        "ottermouth-2024",
        (("Ottermouth", "R."), ("Peverstone", "N."), ("Quill", "A.")),
        2024,
        "Invented: strength and muscle activation after slow lowering",
        parallel(),
        people("masters rowers of two invented clubs", "mixed", 49, "trained"),
        arms(23, 22, lost=(1, 2), exercises=2, sets_per_session=6, reps_in_reserve=2),
        (FLEXION_NM, ACTIVATION, STRAIN),
        (
            ResultPlan(
                "knee-flexion-torque",
                12,
                "pre:mean,sd change:mean,ci90 r",
                "Figure 3, p. 7",
                "authors",
                notes={"sent": "The authors sent the numbers behind the figure"},
            ),
            ResultPlan(
                "hamstring-activation",
                12,
                "pre:mean,se post:mean,se",
                "Figure 4, p. 8",
                "figure",
                reading_error=0.5,
                comment="A stand-in for strength, never pooled with it.",
            ),
            ResultPlan("hamstring-strain", 12, "events", "Results, p. 8", "text"),
        ),
        source={"DOI": "10.0000/invented.ottermouth.2024"},
    ),
)
