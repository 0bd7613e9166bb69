"""Trials of short against long rests between sets, for thigh size."""

from __future__ import annotations

from dataclasses import replace

from tests.invented.measures import AREA_CM2, EXTENSION_KG, THICKNESS_MM
from tests.invented.plan import ArmPlan, ComparisonPlan, ResultPlan, StudyPlan
from tests.invented.slow_lowering_trials import parallel, people

DOSE = {"sessions_per_week": 2, "sets_per_week": 8, "reps": (8, 12), "reps_in_reserve": 1}
EQUATED = "weekly sets"
WITHIN = {
    "kind": "within-person",
    "randomised": True,
    "blinded_assessors": True,
    "equated": EQUATED,
    "cross_education": "Size, not strength, is compared: little crosses over (Methods, p. 4)",
}


def arms(short: int, long: int, *, lost: tuple[int, int] = (0, 0), rests=(60, 180)):
    return (
        ArmPlan(
            "short",
            f"{rests[0]} s rests",
            ("short-rest",),
            short,
            1.0,
            DOSE | {"rest_s": rests[0]},
            lost[0],
        ),
        ArmPlan(
            "long",
            f"{rests[1]} s rests",
            ("long-rest",),
            long,
            0.0,
            DOSE | {"rest_s": rests[1]},
            lost[1],
        ),
    )


PLANS = (
    StudyPlan(
        "peverstone-2012",
        (("Peverstone", "N."), ("Ottermouth", "R.")),
        2012,
        "Invented: one minute or three between sets, in eighty lifters",
        parallel(equated=EQUATED),
        people("club lifters and rowers", "mixed", 44, "trained"),
        arms(41, 40, lost=(2, 1)),
        (
            replace(
                THICKNESS_MM,
                reliability={"cv_percent": 1.9, "icc": 0.97, "where": "Methods, p. 5"},
            ),
            EXTENSION_KG,
        ),
        (
            ResultPlan("thigh-thickness", 12, "pre:mean,sd post:mean,sd r", "Table 2, p. 6"),
            ResultPlan(
                "knee-extension-1rm",
                12,
                "pre:mean,sd post:mean,sd correlation",
                "Table 3, p. 7",
                correlation_with="thigh-thickness",
                comment="The correlation is between growth and the gain in strength.",
            ),
        ),
        (
            ComparisonPlan(
                "knee-extension-1rm",
                "short",
                "long",
                12,
                "standardised:se,over-change-sd",
                "Table 3, p. 7",
                "table",
                comment="The foot of the table says: divided by the SD of the changes.",
            ),
        ),
    ),
    StudyPlan(
        "quillbeck-2014",
        (("Quillbeck", "O."),),
        2014,
        "Invented: one thigh with short rests, the other with long",
        WITHIN,
        people("rowers over 35, both thighs trained", "male", 41, "trained"),
        arms(28, 28),
        (replace(THICKNESS_MM, shows_r_between_arms=True),),
        (ResultPlan("thigh-thickness", 10, "pre:mean,sd change:mean,sd", "Table 2, p. 5"),),
    ),
    StudyPlan(
        "rushwater-2016",
        (("Rushwater", "S."), ("Saltmire", "T.")),
        2016,
        "Invented: growth of the thigh as each person's percent",
        parallel(equated=EQUATED),
        people("club lifters", "female", 38, "recreational"),
        arms(39, 39),
        (AREA_CM2, THICKNESS_MM),
        (
            ResultPlan(
                "thigh-area", 12, "pre:mean,sd change_percent:mean,sd,of-people", "Table 2, p. 5"
            ),
            ResultPlan(
                "thigh-thickness",
                12,
                "pre:mean,sd change_percent:mean,ci95,by-t,of-people",
                "Figure 2, p. 6",
                "text",
            ),
        ),
        conduct="patchy",
    ),
    StudyPlan(
        "saltmire-2017",
        (("Saltmire", "T."),),
        2017,
        "Invented: magnetic resonance images after short and long rests",
        parallel(equated=EQUATED),
        people("rowers of one invented city", "mixed", 47, "trained"),
        arms(36, 35, rests=(75, 180)),
        (AREA_CM2,),
        (ResultPlan("thigh-area", 16, "pre:mean,se post:mean,se", "Table 2, p. 6"),),
    ),
    StudyPlan(
        "tarnholt-2019",
        (("Tarnholt", "U."), ("Ulverwick", "V.")),
        2019,
        "Invented: the ratio of growth, printed as a logarithm",
        parallel(equated=EQUATED),
        people("recreational lifters", "mixed", 36, "recreational"),
        arms(48, 47),
        (THICKNESS_MM, EXTENSION_KG),
        (
            ResultPlan(
                "knee-extension-1rm",
                12,
                {
                    "short": "pre:groups post:mean,ci95,by-normal change_percent:mean,of-means",
                    "long": "pre:groups post:mean,ci95,by-normal "
                    "change_percent:mean,ci95,by-normal,of-people",
                },
                "Supplement, p. 2",
                comment="Two cohorts at the start; intervals are the mean ± 1.96 SE.",
            ),
        ),
        (
            ComparisonPlan(
                "thigh-thickness",
                "short",
                "long",
                12,
                "log_ratio_of_means:ci95",
                "Table 3, p. 7",
                "table",
                shows_n=True,
            ),
            ComparisonPlan(
                "knee-extension-1rm",
                "short",
                "long",
                12,
                "log_sd_ratio:se standardised:se,over-post-sd",
                "Supplement, p. 2",
                notes={"meaning": "whether people's strength came to differ more"},
                of="post",
            ),
        ),
    ),
    StudyPlan(
        "ulverwick-2020",
        (("Ulverwick", "V."),),
        2020,
        "Invented: one, two or three minutes between sets",
        parallel(equated=EQUATED),
        people("masters rowers", "mixed", 50, "trained"),
        (
            *arms(35, 36),
            ArmPlan(
                "middle",
                "120 s rests",
                ("middle-rest",),
                35,
                0.5,
                DOSE | {"rest_s": 120},
            ),
        ),
        (AREA_CM2,),
        (ResultPlan("thigh-area", 12, "pre:mean,ci99 post:mean,ci99", "Table 2, p. 7"),),
    ),
    StudyPlan(
        "wetherlode-2023",
        (("Wetherlode", "X."), ("Yarrow", "Y.")),
        2023,
        "Invented: thighs of the same people, without their correlation",
        WITHIN | {"blinded_assessors": False},
        people("masters rowers", "female", 46, "trained"),
        arms(24, 24),
        (THICKNESS_MM,),
        (ResultPlan("thigh-thickness", 12, "pre:mean,sd change:mean,ci95", "Table 2, p. 5"),),
        conduct="patchy",
    ),
    StudyPlan(
        "yarrowick-2024",
        (("Yarrowick", "Z."), ("Zealbeck", "A."), ("Birch", "L.")),
        2024,
        "Invented: a registered trial of rests, in percent",
        parallel(equated=EQUATED, registered="Yes, entry 7310 of an invented register (p. 2)"),
        people("club lifters of five invented towns", "mixed", 45, "trained"),
        arms(58, 57, lost=(3, 2)),
        (AREA_CM2, THICKNESS_MM),
        (
            ResultPlan(
                "thigh-area",
                12,
                "pre:mean,sd change_percent:mean,se",
                "Table 2, p. 6",
                checked_by="second reader, Tarnside",
            ),
            ResultPlan(
                "thigh-thickness",
                12,
                {
                    "short": "pre:mean,sd change_percent:mean,ci90",
                    "long": "pre:mean,sd change_percent:mean,ci99",
                },
                "Supplement, p. 3",
                comment="The supplement prints a 90 % interval for one arm and 99 % for the other.",
            ),
        ),
    ),
)
