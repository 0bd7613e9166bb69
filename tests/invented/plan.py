"""What a study of the invented library looks like before anyone is drawn."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Noted:
    """A value with the comment a person left behind it."""

    value: Any
    comment: str


@dataclass(frozen=True, slots=True)
class ArmPlan:
    """One arm. `share` is the part of the study's true effect it receives."""

    id: str
    label: str
    tags: tuple[str, ...]
    n: int
    share: float = 0.0
    dose: dict[str, Any] = field(default_factory=dict)
    lost: int = 0


@dataclass(frozen=True, slots=True)
class OutcomePlan:
    """One outcome: a measured quantity, or a count where `base_risk` is set.

    `gain` is the comparator's relative gain by the last week; `r` the pre-post correlation;
    `truth` the question whose true effect moves it; `shows_r_between_arms` whether the paper
    gives the correlation between limbs or periods.
    """

    id: str
    construct: str
    site: str | None
    measure: str
    unit: str
    mean: float = 0.0
    sd: float = 0.0
    gain: float = 0.0
    r: float = 0.9
    truth: str | None = None
    label: str | None = None
    decimals: int = 1
    better: str = "higher"
    base_risk: float | None = None
    whole_numbers: bool = False
    items: int | None = None
    shows_r_between_arms: bool = False
    reliability: dict[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class ResultPlan:
    """How a paper prints one outcome at one week.

    `prints` is one text for all arms or one per arm, such as ``"pre:mean,sd post:mean,se r"``.
    """

    outcome: str
    week: int
    prints: str | dict[str, str]
    where: str | None = None
    read_off: str | None = "table"
    checked_by: str | None = None
    comment: str | None = None
    notes: dict[str, str] = field(default_factory=dict)
    reading_error: float | None = None
    correlation_with: str | None = None


@dataclass(frozen=True, slots=True)
class ComparisonPlan:
    """A comparison of which a paper prints only a difference or a test."""

    outcome: str
    intervention: str
    comparator: str
    week: int
    prints: str
    where: str | None = None
    read_off: str | None = "text"
    checked_by: str | None = None
    comment: str | None = None
    notes: dict[str, str] = field(default_factory=dict)
    adjusted: bool = False
    shows_n: bool = False
    of: str | None = None
    clusters_allowed_for: bool | None = None


@dataclass(frozen=True, slots=True)
class StudyPlan:
    """One invented study. `inflate` multiplies its true effect (a fabricated result)."""

    id: str
    authors: tuple[tuple[str, str], ...]
    year: int
    title: str
    design: dict[str, Any]
    population: dict[str, Any]
    arms: tuple[ArmPlan, ...]
    outcomes: tuple[OutcomePlan, ...]
    results: tuple[ResultPlan, ...] = ()
    comparisons: tuple[ComparisonPlan, ...] = ()
    journal: str = "Journal of Invented Strength Trials"
    source: dict[str, Any] = field(default_factory=dict)
    conduct: str = "careful"
    inflate: float = 1.0
    comment: str | None = None
    notes: dict[str, str] = field(default_factory=dict)

    @property
    def kind(self) -> str:
        return self.design["kind"]

    @property
    def last_week(self) -> int:
        return max(part.week for part in (*self.results, *self.comparisons))

    def arm(self, arm_id: str) -> ArmPlan:
        return next(arm for arm in self.arms if arm.id == arm_id)

    def outcome(self, outcome_id: str) -> OutcomePlan:
        return next(outcome for outcome in self.outcomes if outcome.id == outcome_id)
