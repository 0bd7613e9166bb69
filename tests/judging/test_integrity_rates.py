"""How often sound studies are accused and mislabelled spreads caught, through the whole check.

Studies of two arms are drawn from the quartiles of the open extraction table behind Steele et
al. (2023), J Sports Sci (own computation): SD before training in % of the mean, gain in %, and
pre-post r, in arms that train and in arms that do not. 8 to 20 people an arm: own choice around
that table's median of 11-12. Required of the check: of 100 sound strength SDs turned into
standard errors at least 65 caught, of 100 sound ones at most 2 accused; whether the spreads of
both arms, of one arm or of one cell are mislabelled, and whether arms spread alike or apart. The
limits were chosen on other draws of these kinds than are measured here.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from decimal import Decimal
from math import log, sqrt

import numpy as np
import pytest

from steelyard.judging.integrity import integrity_findings
from steelyard.records.study import Study

SEEDS = range(5)
STUDIES = 100


@dataclass(frozen=True)
class Kind:
    """Median, lower and upper quartile of each; r in arms that train and that do not."""

    construct: str
    sd_percent: tuple[float, float, float]
    gain_percent: tuple[float, float, float]
    r: tuple[float, float, float]
    r_of_rest: tuple[float, float, float]
    rest_percent: tuple[float, float]  # mean and SD, normal


REST_OF_STRENGTH = (0.2, 3.5)  # quartiles -1.8 to 3.0
REST_OF_SIZE = (0.0, 1.5)  # quartiles -1.1 to 0.9
KINDS = {
    "1RM": Kind(
        "strength",
        (23, 18, 30),
        (24.5, 16, 36.5),
        (0.90, 0.76, 0.96),
        (0.95, 0.80, 0.97),
        REST_OF_STRENGTH,
    ),
    "isometric": Kind(
        "strength",
        (21, 16, 30),
        (11.4, 6.3, 15.6),
        (0.88, 0.85, 0.90),
        (0.91, 0.87, 0.94),
        REST_OF_STRENGTH,
    ),
    "isokinetic": Kind(
        "strength",
        (25, 18, 33),
        (15.3, 10.8, 20.0),
        (0.89, 0.77, 0.96),
        (0.95, 0.87, 0.97),
        REST_OF_STRENGTH,
    ),
    "ultrasound": Kind(
        "muscle-size",
        (17, 12, 22),
        (9.1, 6.0, 18.4),
        (0.93, 0.87, 0.97),
        (0.97, 0.92, 0.98),
        REST_OF_SIZE,
    ),
    "MRI": Kind(
        "muscle-size",
        (18, 14, 22),
        (7.7, 4.9, 10.4),
        (0.97, 0.85, 0.98),
        (0.995, 0.96, 0.998),  # printed 1.00 (.96-1.00); SDs of change are not 0
        REST_OF_SIZE,
    ),
}
STRENGTH = ("1RM", "1RM", "isometric", "isokinetic")


def lognormal(random, quartiles):
    """One draw; 1.349 = Φ⁻¹(.75) − Φ⁻¹(.25)."""
    median, low, high = quartiles
    return median * np.exp(random.normal(0, log(high / low) / 1.349))


def correlation(normal, quartiles):
    """A correlation at a normal deviate, by two halves in Fisher's z through its quartiles."""
    median, low, high = np.arctanh(quartiles)
    half = (median - low if normal < 0 else high - median) / 0.6745
    return float(np.tanh(median + half * normal))


BOTH = frozenset((arm, when) for arm in ("slow", "usual") for when in ("pre", "post"))


def where(random, planted):
    """The cells of a study that are mislabelled: of ``both`` arms, one ``arm``, or one ``cell``."""
    if planted == "both":
        return BOTH
    arm = ("slow", "usual")[int(random.integers(2))]
    when = ("pre", "post")[int(random.integers(2))]
    return frozenset(
        each for each in BOTH if each[0] == arm and (planted == "arm" or each[1] == when)
    )


def population(random, quartiles):
    """A coefficient of variation of people: the table's, less what samples of 14 add to it."""
    median, low, high = quartiles
    spread = log(high / low) / 1.349
    return median * np.exp(random.normal(0, sqrt(spread**2 - 1 / 26)))


def sample(random, n, r):
    """Two SDs of n people who spread by 1 and agree by r."""
    one, more = random.normal(size=(2, n))
    return one.std(ddof=1), (r * one + sqrt(1 - r**2) * more).std(ddof=1)


def drawn(
    random,
    name,
    kind,
    *,
    as_se=frozenset(),
    spread="apart",
    changes=False,
    tied=0.5,
    randomised=True,
):
    """A two-arm study as papers print it; in cells `as_se`, standard errors labelled as SDs.

    Arms spread ``apart`` (each by its own coefficient of variation), ``alike`` (by one), or are
    ``sampled`` from people of one coefficient of variation. `changes` prints mean and SD of the
    change beside the values before training, with the arms' r tied by `tied`.
    """
    mean = random.uniform(40, 250) if kind.construct == "strength" else random.uniform(15, 60)
    places = 1 if kind.construct == "strength" else 2
    shared = lognormal(random, kind.sd_percent) / 100
    if spread == "sampled":
        shared = 0.01 * population(random, kind.sd_percent)
    deviates = random.normal(size=2)
    deviates[1] = tied * deviates[0] + sqrt(1 - tied**2) * deviates[1]
    arms, results = [], []
    for arm, deviate in zip(("slow", "usual"), deviates, strict=True):
        n = int(random.integers(8, 21))
        trains = arm == "slow"
        sd = mean * (lognormal(random, kind.sd_percent) / 100 if spread == "apart" else shared)
        gain = lognormal(random, kind.gain_percent) if trains else random.normal(*kind.rest_percent)
        gain *= mean / 100
        start = mean + random.normal(0, sd / sqrt(n))

        def cell(value, spread, root=1.0):
            shown = max(spread / root, 10.0**-places)
            return {"mean": Decimal(f"{value:.{places}f}"), "sd": Decimal(f"{shown:.{places}f}")}

        if changes:
            r = correlation(deviate, kind.r if trains else kind.r_of_rest)
            root = sqrt(n) if as_se else 1.0
            of_change = cell(gain, sd * sqrt(2 * (1 - r)), root)
            results.append({"pre": cell(start, sd), "change": of_change})
        else:
            r = correlation(deviate, kind.r if trains else kind.r_of_rest)
            seen = sample(random, n, r) if spread == "sampled" else (1.0, 1.0)
            sds = {"pre": sd * seen[0], "post": sd * seen[1] * random.uniform(0.9, 1.15)}
            roots = {when: sqrt(n) if (arm, when) in as_se else 1.0 for when in sds}
            means = {"pre": start, "post": start + gain}
            results.append({when: cell(means[when], sds[when], roots[when]) for when in sds})
        results[-1] |= {"outcome": "peak", "arm": arm, "week": 12}
        arms.append({"id": arm, "n": n})
    return two_arm_study(name, kind.construct, arms, results, randomised=randomised)


def two_arm_study(name, construct, arms, results, *, randomised=True):
    return Study.model_validate(
        {
            "schema": 1,
            "id": name,
            "invented": True,
            "source": {"title": f"Drawn study {name}"},
            "design": {"kind": "parallel", "randomised": randomised},
            "arm": arms,
            "outcome": [{"id": "peak", "construct": construct, "unit": construct}],
            "result": results,
        }
    )


def library(seed, kinds, *, share, planted="both", **words):
    """Drawn studies by id, and the results of them whose spreads are mislabelled."""
    random = np.random.default_rng(seed)
    studies, wrong = {}, set()
    for number in range(STUDIES):
        name = f"drawn-{number}"
        as_se = where(random, planted) if random.random() < share else frozenset()
        kind = KINDS[kinds[int(random.integers(len(kinds)))]]
        studies[name] = drawn(random, name, kind, as_se=as_se, **words)
        for arm, _ in as_se:
            wrong.add((name, f"result[{1 if arm == 'slow' else 2}]"))
    return studies, wrong


def rates(rule, kinds, *, severity="warning", **words):
    """Of 100 arms: sound ones accused, beside mislabelled ones too, and mislabelled ones caught."""
    accused = caught = sound_arms = wrong_arms = 0
    for seed in SEEDS:
        for number, share in ((seed, 0.0), (seed + 1000, 0.25)):
            studies, wrong = library(number, kinds, share=share, **words)
            found = told(studies, rule, severity)
            accused += len(found - wrong)
            caught += len(found & wrong)
            sound_arms += 2 * STUDIES - len(wrong)
            wrong_arms += len(wrong)
    return 100 * accused / sound_arms, 100 * caught / wrong_arms


def told(studies, rule, severity):
    return {
        (finding.study, finding.path.split(".")[0])
        for finding in integrity_findings(studies)
        if (finding.rule, finding.severity) == (rule, severity)
    }


@pytest.mark.parametrize("spread", ["apart", "alike", "sampled"])
@pytest.mark.parametrize("planted", ["both", "arm", "cell"])
@pytest.mark.parametrize("kinds", [("1RM",), ("isometric",), ("isokinetic",), STRENGTH])
def test_strength_sds(kinds, planted, spread):
    accused, caught = rates("standard-error-as-sd", kinds, planted=planted, spread=spread)
    assert accused <= 2
    assert caught >= 65


@pytest.mark.parametrize("kind", ["ultrasound", "MRI"])
def test_each_kind_of_sd(kind):
    """No requirement names them: sound ones must be as safe, and half of the others caught."""
    accused, caught = rates("standard-error-as-sd", (kind,))
    assert accused <= 2
    assert caught >= 50


@pytest.mark.parametrize("kinds", [("1RM",), STRENGTH, ("ultrasound",), ("MRI",)])
def test_sds_of_change(kinds):
    accused, caught = rates("small-change-sd", kinds, changes=True)
    assert accused <= 2
    assert caught >= 40


def test_no_sound_study_of_few_is_suspect():
    """In libraries of three studies nothing is known of like outcomes."""
    suspect = 0
    for seed in SEEDS:
        studies, _ = library(seed, STRENGTH, share=0.0)
        names = list(studies)
        for first in range(0, len(names) - 2, 3):
            few = {name: studies[name] for name in names[first : first + 3]}
            suspect += sum(finding.suspect for finding in integrity_findings(few))
    assert suspect <= 0.02 * STUDIES * len(SEEDS)


def test_sound_studies_are_rarely_noted():
    """Notes are no accusation, yet a list of them must stay worth reading."""
    seen = Counter()
    for seed in SEEDS:
        for changes in (False, True):
            studies, _ = library(seed, STRENGTH, share=0.0, changes=changes)
            seen.update(finding.rule for finding in integrity_findings(studies))
    arms = 2 * STUDIES * len(SEEDS)
    assert seen["implausible-spread"] <= 0.10 * arms
    assert seen["small-change-sd"] <= 0.08 * arms


def two_arms(random, name, construct, arms):
    """A randomised study of 6 to 10 people an arm; of each arm two means and two SDs."""
    results, sizes = [], []
    for arm, (before, after) in zip(("slow", "usual"), arms, strict=True):
        n = int(random.integers(6, 11))
        start = random.normal(*before, n)
        shown = {
            "pre": start,
            "post": after(start, random),
        }
        cells = {
            when: {
                "mean": Decimal(f"{values.mean():.1f}"),
                "sd": Decimal(f"{max(values.std(ddof=1), 0.1):.1f}"),
            }
            for when, values in shown.items()
        }
        results.append(cells | {"outcome": "peak", "arm": arm, "week": 12})
        sizes.append({"id": arm, "n": n})
    return two_arm_study(name, construct, sizes, results)


def near_the_end(start, random):
    return np.clip(97 + random.normal(0, 2.5, len(start)), 0, 100)


def unequal_gains(start, random):
    return start + random.normal(25, 25, len(start))


def no_change(start, random):
    return start + random.normal(0, 3, len(start))


@pytest.mark.parametrize(
    ("construct", "start", "after", "most"),
    [
        ("muscle-activation", (90, 6), near_the_end, 0.02),
        ("strength", (100, 18), unequal_gains, 0.03),
    ],
)
def test_training_that_changes_the_spread_makes_no_study_suspect(construct, start, after, most):
    """People near the end of a scale, and people who gain most unequally: sound, and not rare.

    Of other seeds 1.3 and 1.7, and 1.0 and 3.3 in 100.
    """
    random = np.random.default_rng(77)
    suspect = 0
    for number in range(300):
        arms = ((start, after), (start, no_change))
        study = two_arms(random, f"drawn-{number}", construct, arms)
        findings = integrity_findings({study.id: study})
        suspect += any(f.suspect for f in findings if f.rule == "standard-error-as-sd")
    assert suspect <= most * 300
