"""Outcomes that several invented studies measure, with typical sizes.

SDs as a share of the mean, gains over about twelve weeks and pre-post correlations are typical
of published training trials (one-repetition maximum: SD 18-30 % of the mean; isometric force:
16-30 %; thigh size by ultrasound: 12-22 %, by MRI 14-22 %; r 0.85-0.95 for strength, 0.93-0.98
for size), halved in gain since these people lift already. Common ranges, not from one source.
"""

from __future__ import annotations

from tests.invented.plan import OutcomePlan

LOWERING, STRAINS = "slow-lowering-strength", "slow-lowering-strains"
REST, SETS, LEGS = "short-rest-size", "weekly-sets-size", "one-leg-or-two-strength"

FLEXION_N = OutcomePlan(
    id="knee-flexion-peak",
    construct="strength",
    site="hamstrings",
    measure="isometric dynamometry, 30 degrees",
    unit="N",
    mean=212,
    sd=44,
    gain=0.06,
    r=0.89,
    truth=LOWERING,
    label="isometric knee flexion",
)
FLEXION_NM = OutcomePlan(
    id="knee-flexion-torque",
    construct="strength",
    site="hamstrings",
    measure="isokinetic dynamometry, 60 degrees per second",
    unit="N m",
    mean=88,
    sd=21,
    gain=0.07,
    r=0.88,
    truth=LOWERING,
    label="isokinetic knee flexion",
)
DEADLIFT_KG = OutcomePlan(
    id="straight-leg-lift-1rm",
    construct="strength",
    site="hamstrings",
    measure="straight-leg lift from the floor, one-repetition maximum",
    unit="kg",
    mean=71,
    sd=16,
    gain=0.10,
    r=0.92,
    truth=LOWERING,
    label="straight-leg lift 1RM",
)
STRAIN = OutcomePlan(
    id="hamstring-strain",
    construct="muscle-strain",
    site="hamstrings",
    measure="people with a hamstring strain that cost a session or more",
    unit="people",
    better="lower",
    base_risk=0.13,
    truth=STRAINS,
    label="hamstring strains",
)
SORENESS = OutcomePlan(
    id="soreness",
    construct="soreness",
    site="hamstrings",
    measure="soreness the day after, one question from 0 to 10",
    unit="points",
    mean=4.2,
    sd=1.9,
    gain=-0.10,
    r=0.5,
    decimals=2,
    better="lower",
    whole_numbers=True,
    items=1,
)
ACTIVATION = OutcomePlan(
    id="hamstring-activation",
    construct="muscle-activation",
    site="hamstrings",
    measure="surface electrode amplitude, percent of the value before training",
    unit="%",
    mean=100,
    sd=24,
    gain=0.05,
    r=0.6,
    label="muscle activation",
)
THICKNESS_MM = OutcomePlan(
    id="thigh-thickness",
    construct="muscle-size",
    site="thigh",
    measure="ultrasound, front of the thigh at half its length",
    unit="mm",
    mean=23.4,
    sd=3.7,
    gain=0.055,
    r=0.96,
    truth=REST,
    decimals=2,
    label="thigh muscle thickness",
)
AREA_CM2 = OutcomePlan(
    id="thigh-area",
    construct="muscle-size",
    site="thigh",
    measure="magnetic resonance imaging, area at half the thigh",
    unit="cm²",
    mean=61.5,
    sd=9.8,
    gain=0.05,
    r=0.975,
    truth=REST,
    decimals=2,
    label="thigh muscle area",
)
EXTENSION_KG = OutcomePlan(
    id="knee-extension-1rm",
    construct="strength",
    site="quadriceps",
    measure="knee extension, one-repetition maximum",
    unit="kg",
    mean=54,
    sd=12,
    gain=0.11,
    r=0.9,
    label="knee extension 1RM",
)
PRESS_KG = OutcomePlan(
    id="one-leg-press-1rm",
    construct="strength",
    site="leg",
    measure="leg press with one leg, one-repetition maximum",
    unit="kg",
    mean=78,
    sd=17,
    gain=0.08,
    r=0.93,
    truth=LEGS,
    label="one-leg press 1RM",
)
