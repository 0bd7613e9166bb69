"""A study: one paper's record, numbers as printed."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from steelyard.records.appraisal import Appraisal, Overruling
from steelyard.records.model import Identifier, Record, Words, YesNo
from steelyard.records.plausible import (
    AgeSpread,
    Exercises,
    LoadPercent,
    LoweringSeconds,
    MeanAge,
    Reps,
    RepsInReserve,
    RestSeconds,
    SessionsPerWeek,
    Sets,
    TrainingWeeks,
)
from steelyard.records.printed import (
    ClusterCorrelationPrinted,
    CorrelationPrinted,
    EventCount,
    GroupSize,
    NotNegativePrinted,
    OpenCorrelationPrinted,
    People,
    PositivePrinted,
    Printed,
    Week,
)
from steelyard.records.spread import (
    INTERVAL_KEYS,
    PercentChange,
    ReportedEffect,
    ReportedP,
    Spread,
    Subgroup,
)

__all__ = [
    "INTERVAL_KEYS",
    "Arm",
    "Comparison",
    "Design",
    "Dose",
    "Outcome",
    "PercentChange",
    "Person",
    "Population",
    "Reliability",
    "ReportedEffect",
    "Result",
    "Source",
    "Spread",
    "Study",
    "Subgroup",
]

NOT_REPORTED = "not reported"


class Person(Record):
    """An author, in CSL-JSON's names."""

    family: Words | None = None
    given: str | None = None
    literal: Words | None = None


class Source(Record):
    """Where the study was published, in CSL-JSON's names."""

    type: str = "article-journal"
    title: Words
    author: tuple[Person, ...] = ()
    issued: Annotated[int, Field(strict=True, ge=1800, le=2200)] | None = None
    container_title: str | None = Field(None, alias="container-title")
    volume: str | int | None = None
    issue: str | int | None = None
    page: str | int | None = None
    DOI: str | None = None
    URL: str | None = None
    status: Literal["published", "preprint", "corrected", "retracted"] = "published"
    status_note: str | None = None
    funding: str | None = None


class Design(Record):
    """How the study was made."""

    kind: Literal["parallel", "crossover", "within-person", "single-group", "cluster"]
    randomised: YesNo | None = None
    blinded_assessors: YesNo | None = None
    duration_weeks: TrainingWeeks | None = None
    equated: str = NOT_REPORTED
    registered: str | None = None
    allocation: str | None = None
    deviations: str | None = None
    missing_data: str | None = None
    measurement: str | None = None
    selective_reporting: str | None = None
    carry_over: str | None = None
    cross_education: str | None = None
    cluster_size: PositivePrinted | None = None
    cluster_icc: ClusterCorrelationPrinted | None = None
    scores: dict[str, Printed | str] = Field(default_factory=dict)


class Population(Record):
    """Who took part."""

    description: str = NOT_REPORTED
    sex: Literal["female", "male", "mixed", "not reported"] = NOT_REPORTED
    age_mean: MeanAge | None = None
    age_sd: AgeSpread | None = None
    training_status: Literal[
        "untrained", "recreational", "trained", "highly-trained", "mixed", "not reported"
    ] = NOT_REPORTED
    n_randomised: People | None = None


class Dose(Record):
    """The training of one arm; each number per the unit in its name."""

    sessions_per_week: SessionsPerWeek | None = None
    sets_per_week: Sets | None = None
    direct_sets_per_week: Sets | None = None
    indirect_sets_per_week: Sets | None = None
    sets_per_session: Sets | None = None
    exercises: Exercises | None = None
    reps: Reps | None = None
    load_percent_1rm: LoadPercent | None = None
    rest_s: RestSeconds | None = None
    lowering_s: LoweringSeconds | None = None
    reps_in_reserve: RepsInReserve | None = None
    order: str | None = None


class Arm(Record):
    """One trained or control group, or one limb, or one period."""

    id: Identifier
    label: Words | None = None
    tags: tuple[Identifier, ...] = ()
    n: GroupSize | None = None
    dose: Dose = Dose()

    @property
    def name(self) -> str:
        return self.label or self.id


class Reliability(Record):
    """Measurement error of an outcome, as the paper gives it."""

    sem: PositivePrinted | None = None
    icc: CorrelationPrinted | None = None
    cv_percent: PositivePrinted | None = None
    where: str | None = None


class Outcome(Record):
    """What was measured."""

    id: Identifier
    construct_id: Identifier = Field(alias="construct")
    site: Identifier | None = None
    measure: str | None = None
    label: Words | None = None
    unit: str = ""
    better: Literal["higher", "lower"] = "higher"
    whole_numbers: YesNo = False
    items: People | None = None
    r_between_arms: OpenCorrelationPrinted | None = None
    reliability: Reliability | None = None

    @property
    def name(self) -> str:
        return self.label or self.measure or self.id.replace("-", " ")


class Result(Record):
    """The numbers one arm has for one outcome at one time, as printed."""

    outcome: Identifier
    arm: Identifier
    week: Week
    n: GroupSize | None = None
    pre: Spread | None = None
    post: Spread | None = None
    change: Spread | None = None
    change_percent: PercentChange | None = None
    events: EventCount | None = None
    r: CorrelationPrinted | None = None
    correlation: OpenCorrelationPrinted | None = None
    where: str | None = None
    read_off: Literal["table", "text", "figure", "authors"] | None = None
    checked_by: str | None = None
    notes: dict[str, str] = Field(default_factory=dict)


class Comparison(Record):
    """One arm against another where the paper gives only a difference or a test.

    Ratio metrics are on the log scale. `of` says which scores were tested, where the paper
    does; `clusters_allowed_for` that its own analysis took account of clusters.
    """

    outcome: Identifier
    intervention: Identifier
    comparator: Identifier
    week: Week
    n_intervention: GroupSize | None = None
    n_comparator: GroupSize | None = None
    difference: ReportedEffect | None = None
    standardised: ReportedEffect | None = None
    log_ratio_of_means: ReportedEffect | None = None
    log_risk_ratio: ReportedEffect | None = None
    log_odds_ratio: ReportedEffect | None = None
    risk_difference: ReportedEffect | None = None
    log_sd_ratio: ReportedEffect | None = None
    t: Printed | None = None
    f: NotNegativePrinted | None = None
    p: ReportedP | None = None
    of: Literal["change", "post"] | None = None
    adjusted: YesNo = False
    clusters_allowed_for: YesNo = False
    where: str | None = None
    read_off: Literal["table", "text", "figure", "authors"] | None = None
    checked_by: str | None = None
    notes: dict[str, str] = Field(default_factory=dict)


class Study(Record):
    """One paper's record."""

    schema_version: Literal[1] = Field(alias="schema")
    id: Identifier
    invented: YesNo = False
    source: Source
    design: Design
    population: Population = Population()
    arms: tuple[Arm, ...] = Field(alias="arm", min_length=1)
    outcomes: tuple[Outcome, ...] = Field(alias="outcome", min_length=1)
    results: tuple[Result, ...] = Field((), alias="result")
    comparisons: tuple[Comparison, ...] = Field((), alias="comparison")
    appraisal: Appraisal | None = None
    overrulings: tuple[Overruling, ...] = Field((), alias="appraisal_overruling")
    notes: dict[str, str] = Field(default_factory=dict)

    @property
    def label(self) -> str:
        """Short name with year, for charts and tables."""
        authors = self.source.author
        name = (authors[0].family or authors[0].literal) if authors else None
        year = self.source.issued
        if not name:
            return self.id
        if len(authors) == 2 and (authors[1].family or authors[1].literal):
            name = f"{name} & {authors[1].family or authors[1].literal}"
        elif len(authors) > 2:
            name = f"{name} et al."
        return f"{name} {year}" if year else name

    @property
    def retracted(self) -> bool:
        return self.source.status == "retracted"

    def arm(self, arm_id: str) -> Arm:
        return next(arm for arm in self.arms if arm.id == arm_id)

    def outcome(self, outcome_id: str) -> Outcome:
        return next(outcome for outcome in self.outcomes if outcome.id == outcome_id)
