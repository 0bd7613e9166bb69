"""Trials of slow lowering work added to usual lifting."""

from __future__ import annotations

from dataclasses import replace

from tests.invented.measures import DEADLIFT_KG, FLEXION_N, FLEXION_NM, STRAIN
from tests.invented.plan import ArmPlan, ComparisonPlan, Noted, ResultPlan, StudyPlan

ADDED_DOSE = {
    "sessions_per_week": 2,
    "sets_per_week": 12,
    "reps": (6, 8),
    "load_percent_1rm": 75,
    "rest_s": 120,
    "lowering_s": 4,
}
USUAL_DOSE = ADDED_DOSE | {"sets_per_week": 8, "lowering_s": 1.5}


def arms(added: int, usual: int, *, lost: tuple[int, int] = (0, 0), **dose):
    """The usual two arms."""
    return (
        ArmPlan(
            "added",
            "usual lifting plus slow lowering",
            ("slow-lowering",),
            added,
            1.0,
            ADDED_DOSE | dose,
            lost[0],
        ),
        ArmPlan("usual", "usual lifting", ("usual-lifting",), usual, 0.0, USUAL_DOSE, lost[1]),
    )


def people(description, sex, age, status, sd=6.1):
    return {
        "description": description,
        "sex": sex,
        "age_mean": age,
        "age_sd": sd,
        "training_status": status,
    }


def parallel(**facts):
    return {
        "kind": "parallel",
        "randomised": True,
        "blinded_assessors": True,
        "equated": "nothing: slow lowering came on top",
        **facts,
    }


PLANS = (
    StudyPlan(
        "brackwater-2011",
        (("Brackwater", "A."), ("Fellgate", "J.")),
        2011,
        "An invented trial of added slow lowering in masters rowers",
        parallel(duration_weeks=12),
        people("masters rowers of three invented clubs", "mixed", 48, "trained"),
        arms(24, 23, lost=(2, 1)),
        (
            replace(
                FLEXION_N,
                reliability={"sem": 14, "icc": 0.93, "where": "Methods, p. 4"},
            ),
            STRAIN,
        ),
        (
            ResultPlan(
                "knee-flexion-peak",
                12,
                "pre:mean,sd post:mean,sd",
                "Table 2, p. 6",
                checked_by="second reader, Tarnside",
            ),
            ResultPlan("hamstring-strain", 12, "events", "Results, p. 7", "text"),
        ),
        source={"volume": "4", "issue": "2", "page": "101-109", "funding": "club subscriptions"},
    ),
    StudyPlan(
        "oxmere-2013",
        (("Oxmere", "P."), ("Fell", "R."), ("Hollowby", "S.")),
        2013,
        "Invented: two hamstring tests after twelve weeks of slow lowering",
        parallel(scores={"invented ten-item scale": 7}),
        people("lifters who row on ergometers", "female", 44, "recreational", 8.3),
        arms(19, 18),
        (
            FLEXION_NM,
            replace(DEADLIFT_KG, reliability={"cv_percent": 4.1, "where": "p. 4"}),
        ),
        (
            ResultPlan("knee-flexion-torque", 12, "pre:mean,se post:mean,se", "Table 2, p. 6"),
            ResultPlan(
                "straight-leg-lift-1rm",
                12,
                "pre:mean,se post:mean,se",
                "Table 2, p. 6",
                comment="The foot of the table says: values are mean ± SE.",
            ),
        ),
        conduct="patchy",
    ),
    StudyPlan(
        "windlecombe-2014",
        (("Windlecombe", "T."),),
        2014,
        "Invented: slow lowering against usual practice, with the changes printed",
        parallel(),
        people("masters rowers, two winters of lifting", "male", 51, "trained"),
        arms(17, 17, lost=(1, 0)),
        (FLEXION_N,),
        (
            ResultPlan(
                "knee-flexion-peak",
                10,
                "pre:mean,sd change:mean,sd r",
                "Table 3, p. 5",
                checked_by="second reader, Tarnside",
            ),
        ),
    ),
    StudyPlan(
        "marrowdale-2015",
        (("Marrowdale", "C."), ("Skerrow", "D.")),
        2015,
        "Invented: one or two slow lowering sessions a week share one control group",
        parallel(equated="nothing: sessions were added"),
        people("rowers and canoeists over 40", "mixed", 47, "trained", 5.5),
        (
            *arms(16, 17),
            ArmPlan(
                "added-once",
                "usual lifting plus slow lowering once a week",
                ("slow-lowering",),
                16,
                1.0,
                ADDED_DOSE | {"sessions_per_week": 1, "sets_per_week": 10},
            ),
        ),
        (FLEXION_N, STRAIN),
        (
            ResultPlan(
                "knee-flexion-peak",
                12,
                "pre:mean,ci95,by-t post:mean,ci95,by-t",
                "Table 2, p. 7",
                comment="Three arms share the usual-lifting group.",
            ),
            ResultPlan("hamstring-strain", 12, "events", "Results, p. 8", "text"),
        ),
    ),
    StudyPlan(
        "skerrowby-2016",
        (("Skerrowby", "L."),),
        2016,
        "Invented: paired tests within arms, and what they hide",
        parallel(blinded_assessors=False),
        people("club rowers", "not reported", 39, "recreational"),
        arms(20, 21),
        (DEADLIFT_KG,),
        (
            ResultPlan(
                "straight-leg-lift-1rm",
                8,
                "pre:mean,sd post:mean,sd change:mean,t",
                "Table 1, p. 4",
                comment="Only paired t-values stand beside the changes.",
            ),
        ),
        conduct="patchy",
        journal="Annals of Invented Rowing",
    ),
    StudyPlan(
        "thistlewick-2016",
        (("Thistlewick", "E."), ("Oxmere", "P.")),
        2016,
        "Invented: medians for a small, uneven sample",
        parallel(),
        people("late starters, first year of lifting", "mixed", 58, "untrained", 7.9),
        arms(15, 14),
        (FLEXION_N, FLEXION_NM),
        (
            ResultPlan("knee-flexion-peak", 12, "pre:median,iqr post:median,iqr", "Table 2, p. 5"),
            ResultPlan(
                "knee-flexion-torque", 12, "pre:median,range post:median,range", "Table 3, p. 6"
            ),
        ),
        conduct="patchy",
    ),
    StudyPlan(
        "cobblemarsh-2017",
        (("Cobblemarsh", "I."), ("Drumlaw", "H."), ("Fen", "O.")),
        2017,
        "Invented: an adjusted difference and a count of strains",
        parallel(registered="Yes, entry 4411 of an invented register (p. 2)"),
        people("masters rowers of six invented clubs", "mixed", 50, "trained"),
        arms(31, 30, lost=(2, 2)),
        (FLEXION_N, STRAIN),
        (ResultPlan("hamstring-strain", 20, "events", "Results, p. 8", "text"),),
        (
            ComparisonPlan(
                "knee-flexion-peak",
                "added",
                "usual",
                20,
                "difference:ci95",
                "Table 3, p. 7",
                "table",
                adjusted=True,
                shows_n=True,
                checked_by="second reader, Tarnside",
                notes={"model": "analysis of covariance with the value before training"},
            ),
        ),
        source={"DOI": "10.0000/invented.cobblemarsh.2017", "volume": 10},
    ),
    StudyPlan(
        "drumlaw-2018",
        (("Drumlaw", "H."), ("Brackwater", "A.")),
        2018,
        "Invented: three measuring weeks, one of them only in a figure",
        parallel(blinded_assessors=True),
        people("masters rowers before and after a racing winter", "mixed", 46, "trained"),
        arms(26, 25, lost=(3, 2)),
        (replace(FLEXION_N, decimals=0), STRAIN),
        (
            ResultPlan("knee-flexion-peak", 6, "pre:mean,sd post:mean,sd", "Table 2, p. 5"),
            ResultPlan(
                "knee-flexion-peak",
                12,
                "post:mean,sd",
                "Figure 2, p. 6",
                "figure",
                reading_error=2,
                comment="Read with a ruler, twice; bars are said to be SDs.",
            ),
            ResultPlan("knee-flexion-peak", 24, "post:mean,sd r", "Table 2, p. 5"),
            ResultPlan("hamstring-strain", 24, "events", "Results, p. 8", "text"),
        ),
    ),
    StudyPlan(
        "eskerholt-2019",
        (("Eskerholt", "=Eskerholt Club Coaches"), ("Eskerholt", "N.")),
        2019,
        "Invented: whole clubs allocated to slow lowering or to usual lifting",
        {
            "kind": "cluster",
            "randomised": True,
            "blinded_assessors": False,
            "equated": "sessions",
            "cluster_size": 9,
            "cluster_icc": Noted(0.05, "of the change, Methods, p. 5"),
        },
        people("eight invented clubs", "mixed", 45, "mixed", 9.2),
        arms(36, 36),
        (DEADLIFT_KG, STRAIN),
        (
            ResultPlan(
                "straight-leg-lift-1rm", 16, "pre:mean,sd change:mean,ci95", "Table 2, p. 7"
            ),
            ResultPlan("hamstring-strain", 16, "events", "Table 4, p. 9"),
        ),
        (
            ComparisonPlan(
                "straight-leg-lift-1rm",
                "added",
                "usual",
                16,
                "p",
                "Results, p. 7",
                comment="A plain t test of changes between people, says Methods, p. 5.",
                of="change",
                clusters_allowed_for=False,
            ),
        ),
    ),
    StudyPlan(
        "mossbarrow-2023",
        (("Mossbarrow", "V."), ("Lintonby", "G.")),
        2023,
        "Invented: rowers of the first boats, an F test and four means",
        parallel(equated="weekly sets"),
        people("members of first boats, ten years of lifting", "male", 41, "highly-trained", 3.4),
        arms(16, 16, sets_per_week=8),
        (DEADLIFT_KG,),
        (ResultPlan("straight-leg-lift-1rm", 10, "pre:mean,sd post:mean", "Table 1, p. 4"),),
        (
            ComparisonPlan(
                "straight-leg-lift-1rm",
                "added",
                "usual",
                10,
                "f",
                "Results, p. 5",
                comment="Group by time, two groups and two times; the sign is that of the means.",
                of="change",
            ),
        ),
        conduct="patchy",
        source={
            "status": "corrected",
            "status_note": "Two means of Table 1 were exchanged at first; corrected here",
        },
    ),
    StudyPlan(
        "netherquill-2024",
        (("Netherquill", "B."),),
        2024,
        "Invented: only a test value and a bound on p",
        parallel(blinded_assessors=False),
        people("women who row for their club", "female", 43, "recreational"),
        arms(25, 24),
        (FLEXION_N, FLEXION_NM),
        (
            ResultPlan("knee-flexion-peak", 12, "pre:mean,sd post:mean", "Table 1, p. 4"),
            ResultPlan("knee-flexion-torque", 12, "pre:mean,sd post:mean", "Table 1, p. 4"),
        ),
        (
            ComparisonPlan("knee-flexion-peak", "added", "usual", 12, "t", "Results, p. 5"),
            ComparisonPlan("knee-flexion-torque", "added", "usual", 12, "p-bound", "p. 5"),
        ),
        conduct="patchy",
    ),
    StudyPlan(
        "ashlocke-2021",
        (("Ashlocke", "K."), ("Cindermoor", "W.")),
        2021,
        "Invented: a season of hamstring strains, printed as ratios",
        parallel(equated="sessions"),
        people("masters scullers, one racing season", "mixed", 49, "trained"),
        arms(44, 45),
        (STRAIN, replace(STRAIN, id="any-strain", label="any strain", truth=None, base_risk=0.3)),
        (),
        (
            ComparisonPlan(
                "hamstring-strain",
                "added",
                "usual",
                30,
                "log_risk_ratio:se",
                "Table 3, p. 6",
                "table",
                comment="The logarithm of the printed ratio; its SE from the printed interval.",
            ),
            ComparisonPlan(
                "any-strain", "added", "usual", 30, "log_odds_ratio:ci95 risk_difference:ci90"
            ),
        ),
    ),
)
