"""A question: whom, what against what, in which metric, under which assumptions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Discriminator, Field, Tag
from pydantic_core import PydanticCustomError

from steelyard.records.model import Broken, Identifier, Record, RuledRecord, Words, YesNo
from steelyard.records.printed import (
    ClusterCorrelationPrinted,
    NotNegativePrinted,
    OpenCorrelationPrinted,
    OpenCorrelationRange,
    PositivePrinted,
    SharedCorrelationPrinted,
    SharedCorrelationRange,
    Week,
    brief,
)

Metric = Literal[
    "standardised",
    "raw",
    "percent",
    "correlation",
    "risk-ratio",
    "odds-ratio",
    "risk-difference",
    "variability-ratio",
    "relative-variability-ratio",
]
DoseName = Literal[
    "sessions_per_week",
    "sets_per_week",
    "sets_per_session",
    "exercises",
    "load_percent_1rm",
    "rest_s",
    "lowering_s",
    "reps_in_reserve",
]
SPREAD_METRICS = frozenset({"variability-ratio", "relative-variability-ratio"})
RATIO_METRICS = SPREAD_METRICS | {"percent", "risk-ratio", "odds-ratio"}
COUNT_METRICS = frozenset({"risk-ratio", "odds-ratio", "risk-difference"})


def _one_or_many(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


Tags = Annotated[tuple[Identifier, ...], BeforeValidator(_one_or_many)]


class Weeks(Record):
    """Named weeks instead of the last one."""

    weeks: tuple[Week, ...] = Field(min_length=1)


def _time(value: Any) -> Any:
    if value in ("last", "all") or isinstance(value, dict | Weeks):
        return value
    raise PydanticCustomError(
        "time",
        'expected "last", "all" or named weeks, such as {example}, found {found}',
        {"example": "{ weeks = [4, 12] }", "found": brief(value)},
    )


def _kind_of_time(value: Any) -> str:
    return "literal[" if isinstance(value, str) else "Weeks"


Time = Annotated[
    Annotated[Literal["last", "all"], Tag("literal[")] | Annotated[Weeks, Tag("Weeks")],
    Discriminator(_kind_of_time),
    BeforeValidator(_time),
]


class Eligible(Record):
    """Filters on design, population and duration; an absent one lets everything through."""

    design: tuple[str, ...] | None = None
    randomised: YesNo | None = None
    training_status: tuple[str, ...] | None = None
    sex: tuple[str, ...] | None = None
    age_min: NotNegativePrinted | None = None
    age_max: NotNegativePrinted | None = None
    duration_weeks_min: NotNegativePrinted | None = None
    duration_weeks_max: NotNegativePrinted | None = None
    equated: tuple[str, ...] | None = None


class Asker(Record):
    """The person the answer is for, in the words of a study's population and dose."""

    training_status: Literal["untrained", "recreational", "trained", "highly-trained"] | None = None
    sex: Literal["female", "male"] | None = None
    age: PositivePrinted | None = None
    duration_weeks: PositivePrinted | None = None
    sessions_per_week: PositivePrinted | None = None
    sets_per_week: PositivePrinted | None = None
    equated: str | None = None
    measure: str | None = None
    site: Identifier | None = None


class Assume(RuledRecord):
    """Used only where the paper is silent; every use is listed in the weighing.

    A range beside a correlation says how far off it may be: the weighing tells the answer at
    both ends. Without one, the ends are those of the default for construct and arm.
    """

    r_pre_post: OpenCorrelationPrinted | None = None
    r_pre_post_range: OpenCorrelationRange | None = None
    r_between_outcomes: SharedCorrelationPrinted | None = None
    r_between_outcomes_range: SharedCorrelationRange | None = None
    r_between_arms: OpenCorrelationPrinted | None = None
    r_between_arms_range: OpenCorrelationRange | None = None
    cluster_icc: ClusterCorrelationPrinted | None = None

    def rules(self) -> Iterator[Iterable[Broken]]:
        for name in ("r_pre_post", "r_between_outcomes", "r_between_arms"):
            yield self._inside_its_range(name)

    def _inside_its_range(self, name: str) -> Iterator[Broken]:
        value, ends = getattr(self, name), getattr(self, f"{name}_range")
        if ends is not None and (value is None or not ends[0] <= value <= ends[1]):
            found = "none" if value is None else value
            message = f"expected {name} between the ends of {name}_range, found {found}"
            yield (), "range-without-middle", message


class Model(RuledRecord):
    """How effects are pooled.

    `unknown_scale` is about standardised effects whose paper does not say which SD they are in:
    they are held out of the pool unless it says ``keep``.
    """

    between: Literal["reml", "dl", "pm", "ml", "common"] = "reml"
    interval: Literal["knapp-hartung", "normal"] = "knapp-hartung"
    dependence: Literal["auto", "none", "composite", "multilevel"] = "auto"
    level: PositivePrinted | None = None
    suspect: Literal["keep", "hold-out"] = "keep"
    change_spread: Literal["auto", "equal", "observed"] = "auto"
    # None as "hold-out": a default written out would be part of every fingerprint.
    unknown_scale: Literal["hold-out", "keep"] | None = None

    def rules(self) -> Iterator[Iterable[Broken]]:
        yield self._level_inside()

    def _level_inside(self) -> Iterator[Broken]:
        if self.level is not None and not self.level < 1:
            message = f"expected a level below 1, such as 0.95, found {self.level}"
            yield (), "out-of-range", message


class Client(Record):
    """What explanations need to turn the metric into a client's unit."""

    unit: Words | None = None
    reference_sd: PositivePrinted | None = None
    reference_sd_source: str | None = None
    baseline: PositivePrinted | None = None
    baseline_source: str | None = None


class Question(RuledRecord):
    """Whom, what against what, which constructs, which metric."""

    schema_version: Literal[1] = Field(1, alias="schema")
    id: Identifier
    invented: YesNo = False
    asks: Words
    whom: str | None = None
    intervention: Tags | None = None
    comparator: Tags | None = None
    dose: DoseName | None = None
    dose_step: PositivePrinted | None = None
    constructs: Tags = Field(min_length=1)
    sites: Tags | None = None
    metric: Metric = "standardised"
    contrast: Literal["auto", "post", "change", "adjusted"] = "auto"
    smallest_worthwhile: PositivePrinted | None = None
    smallest_worthwhile_source: str | None = None
    time: Time = "last"
    person: Asker | None = None
    eligible: Eligible = Eligible()
    assume: Assume = Assume()
    model: Model = Model()
    client: Client = Client()

    def rules(self) -> Iterator[Iterable[Broken]]:
        yield self._compares()

    def _compares(self) -> Iterator[Broken]:
        if self.dose is not None or self.metric == "correlation":
            return
        if self.intervention is None:
            both = " and comparator" if self.comparator is None else ""
            message = f"expected intervention{both} (arm tags) or dose, found neither"
            yield (), "needs-arms", message
        elif self.comparator is None:
            message = (
                "expected a comparator: a change inside one group is not an effect of training "
                "(time, testing and regression to the mean move it too), so it is never pooled"
            )
            yield (), "within-group", message
