"""How near the people, doses and measures of a weighing are to the person asked about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

import pandas as pd

from steelyard.effects.formed import SURROGATE
from steelyard.judging.person import Person, person_of
from steelyard.judging.repool import pooled_rows, used_rows
from steelyard.pooling.pool import PoolResult
from steelyard.pooling.weighing import Weighing
from steelyard.records.question import Question
from steelyard.records.study import Study
from steelyard.show import Shown, listed

AGE_WITHIN_YEARS = 10.0
LENGTH_WITHIN_TIMES = 2.0
DOSE_WITHIN_TIMES = 1.5
CORE = ("training status", "age", "outcome")
TRAINED = ("untrained", "recreational", "trained", "highly-trained")
# Stand in for strength or size and are neither; by the start of a construct's id.
ALWAYS_SURROGATE = (
    *("muscle-activation", "activation", "emg", "moment-arm", "torque-angle", "hormone"),
    *("testosterone", "growth-hormone", "cortisol", "pump"),
)
SURROGATE_BESIDE = ("soreness", "muscle-soreness")
SIZE_OR_STRENGTH = ("strength", "muscle-size", "hypertrophy", "power")


@dataclass(frozen=True, slots=True, eq=False)
class Directness(Shown):
    """Share of weight that matches a person, facet by facet.

    Attributes
    ----------
    person : Person
    shares : dict of str to float
        Facet to share of weight; only facets asked about. ``outcome`` is always there.
    together : float
        Share of weight that matches all of `CORE` that is asked about.
    surrogate : float
        Share of weight measured by something that only stands in for the outcome.
    carried_over : tuple of str
        Sites measured while others are asked about.
    matching : tuple of str
        Studies that match all of `CORE`.
    near : PoolResult or None
        Pool of `matching` alone; None where that is no study, or every study.
    not_compared : tuple of str
        What of `CORE` nothing is asked of, with what the studies had there.
    studies : DataFrame
        ``study, weight`` and a column per facet, true where it matches.
    """

    person: Person
    shares: dict[str, float]
    together: float
    surrogate: float
    carried_over: tuple[str, ...]
    matching: tuple[str, ...]
    near: PoolResult | None
    not_compared: tuple[str, ...]
    studies: pd.DataFrame

    @property
    def compared(self) -> str:
        """What `together` compared, as a sentence lists it."""
        return listed([name for name in CORE if name in self.shares])

    @property
    def sentence(self) -> str:
        """What a reader must know, in one or two sentences."""
        if not self.person.described:
            text = "Nobody in particular is asked about, so nearness to a person is not judged."
        elif self.together == 0:
            text = (
                "None of the weight comes from studies like what is asked about in "
                f"{self.compared}: this answer is about others."
            )
        else:
            text = (
                f"{100 * self.together:.0f} % of the weight comes from studies like what is asked "
                f"about in {self.compared}."
            )
        if self.person.described and self.not_compared:
            text += f" Not compared, since nothing is asked of it: {listed(self.not_compared)}."
        if self.surrogate >= 1 - 1e-9:
            text += " What was measured only stands in for what is asked."
        elif self.surrogate > 0:
            text += (
                f" {100 * self.surrogate:.0f} % of the weight was measured by something that only "
                "stands in for what is asked."
            )
        if self.carried_over:
            elsewhere = 1 - self.shares["part of the body"]
            text += (
                f" {100 * elsewhere:.0f} % of the weight is carried over from other parts of the "
                f"body: {', '.join(self.carried_over)}."
            )
        return text

    def _title(self) -> str:
        return "Directness"

    def _rows(self) -> list[tuple[str, str]]:
        rows = [("in short", self.sentence)]
        rows += [
            (facet, f"{100 * share:.0f} % of the weight matches")
            for facet, share in self.shares.items()
        ]
        return rows


def directness(
    weighing: Weighing,
    studies: Mapping[str, Study],
    *,
    person: Person | None = None,
    sites: tuple[str, ...] = (),
) -> Directness:
    """Hold every pooled study against a person.

    Parameters
    ----------
    weighing : Weighing
    studies : mapping of str to Study
    person : Person, optional
        The one the question describes, if none is given.
    sites : tuple of str
        Parts of the body a recommendation speaks of, beside ``person.site``.

    Returns
    -------
    Directness

    Notes
    -----
    A match is, by our own rules: training status one of those named (``mixed`` is no match);
    sex the same, or mixed; mean age inside the span asked about or within ten years of it;
    between half and double the weeks; a dose no more than half as much again, nor less than
    two thirds; the same thing held equal; the same measure. What a paper does not report does
    not match.
    """
    person = person or person_of(weighing.question)
    wanted_sites = tuple(dict.fromkeys([*sites, *([person.site] if person.site else [])]))
    used = weighing.effects[weighing.effects["used"]]
    weights = used_rows(weighing).set_index("study")["weight"]
    stands_in = _stands_in(used, weighing.question).groupby(used["study"]).all()
    rows = []
    for study_id, part in used.groupby("study", sort=False):
        row = {"study": study_id, "weight": float(weights[study_id])}
        row["stands in"] = bool(stands_in[study_id])
        row |= _facets(studies[study_id], part, person, wanted_sites)
        row["outcome"] = not row["stands in"] and row.pop("measure", True)
        rows.append(row)
    frame = pd.DataFrame(rows)
    facets = [name for name in frame.columns if name not in ("study", "weight", "stands in")]
    shares = {name: _share(frame, frame[name]) for name in facets}
    core = [name for name in CORE if name in facets]
    all_core = frame[core].all(axis=1)
    matching = tuple(frame.loc[all_core, "study"])
    return Directness(
        person=person,
        shares=shares,
        together=_share(frame, all_core),
        surrogate=_share(frame, frame["stands in"]),
        carried_over=_carried_over(used, wanted_sites),
        matching=matching,
        near=_pool_of(weighing, matching),
        not_compared=_not_compared([studies[each] for each in frame["study"]], facets),
        studies=frame,
    )


def _not_compared(studies: Sequence[Study], facets: Sequence[str]) -> tuple[str, ...]:
    found = []
    if "training status" not in facets:
        there = {study.population.training_status for study in studies}
        named = listed([each.replace("-", " ") for each in (*TRAINED, "mixed") if each in there])
        found.append(f"training status ({named or 'not said'} in these studies)")
    ages = [float(mean) for study in studies if (mean := study.population.age_mean) is not None]
    if "age" not in facets:
        span = " to ".join(f"{age:.0f}" for age in sorted({min(ages), max(ages)})) if ages else ""
        found.append(f"age (mean {span} in these studies)" if ages else "age")
    return tuple(found)


def _share(frame: pd.DataFrame, mask: pd.Series) -> float:
    """Exactly 1 where all match: sums of weights may miss it by a rounding."""
    return 1.0 if mask.all() else float(frame.loc[mask, "weight"].sum())


def _stands_in(part: pd.DataFrame, question: Question) -> pd.Series:
    flagged = part["flags"].str.contains(SURROGATE, regex=False)
    always = part["construct"].str.startswith(ALWAYS_SURROGATE)
    beside = part["construct"].isin(SURROGATE_BESIDE) & bool(
        set(SIZE_OR_STRENGTH) & set(question.constructs)
    )
    return flagged | always | beside


def _facets(study: Study, part: pd.DataFrame, person: Person, sites) -> dict[str, bool]:
    people, design = study.population, study.design
    found: dict[str, bool] = {}
    if person.training_status:
        found["training status"] = people.training_status in person.training_status
    if person.age_low is not None or person.age_high is not None:
        found["age"] = _age_near(people.age_mean, person)
    if person.sex:
        found["sex"] = people.sex in (person.sex, "mixed")
    if person.duration_weeks is not None:
        found["length"] = _within(
            design.duration_weeks, person.duration_weeks, times=LENGTH_WITHIN_TIMES
        )
    arms = [study.arm(arm) for arm in part["intervention"].unique()]
    for name, label in (("sessions_per_week", "sessions a week"), ("sets_per_week", "weekly sets")):
        asked = getattr(person, name)
        if asked is not None:
            found[label] = any(
                _within(getattr(arm.dose, name), asked, times=DOSE_WITHIN_TIMES) for arm in arms
            )
    if person.equated is not None:
        found["held equal"] = design.equated == person.equated
    if person.measure is not None:
        measures = {study.outcome(outcome).measure for outcome in part["outcome"].unique()}
        found["measure"] = person.measure in measures
    if sites:
        found["part of the body"] = set(part["site"]) <= set(sites)
    return found


def _age_near(mean: Decimal | None, person: Person) -> bool:
    if mean is None:
        return False
    low = -AGE_WITHIN_YEARS if person.age_low is None else person.age_low - AGE_WITHIN_YEARS
    high = float("inf") if person.age_high is None else person.age_high + AGE_WITHIN_YEARS
    return low <= float(mean) <= high


def _within(found: Decimal | None, asked: float, *, times: float) -> bool:
    return found is not None and asked / times <= float(found) <= asked * times


def _carried_over(used: pd.DataFrame, wanted: tuple[str, ...]) -> tuple[str, ...]:
    if not wanted:
        return ()
    return tuple(site or "not said" for site in dict.fromkeys(used["site"]) if site not in wanted)


def _pool_of(weighing: Weighing, matching: tuple[str, ...]) -> PoolResult | None:
    used = used_rows(weighing)
    near = used[used["study"].isin(matching)]
    if near.empty or len(near) == len(used):
        return None
    return pooled_rows(weighing, near)
