"""What a careless reading would have said, beside the sound result."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from steelyard.effects.arm_changes import arm_changes
from steelyard.effects.table import build_table
from steelyard.errors import SteelyardError
from steelyard.pooling.careless_records import errors_as_spreads, spreads_as_errors
from steelyard.pooling.composite import composite_of_correlated
from steelyard.pooling.dependence import r_between_outcomes
from steelyard.pooling.pool import PoolResult, pool
from steelyard.pooling.verdict import verdict
from steelyard.pooling.weigh import weigh
from steelyard.pooling.weighing import Weighing
from steelyard.records.question import COUNT_METRICS
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary
from steelyard.show import Shown, count, listed, number

# Own rule: an answer this close to the sound one is called the same.
HARDLY = 0.05
SAME = "the same verdict"


@dataclass(frozen=True, slots=True)
class CarelessAnswer:
    """What one error does.

    Attributes
    ----------
    error : str
        Its short name.
    words : str
        What is done wrong.
    estimate, low, high : float
        The answer it gives, machine scale; NaN where it gives none.
    level : float
    said : str
        What it would have said.
    times_estimate, times_width : float
        Its estimate and the width of its interval, as multiples of the sound ones.
    why_not : str
        Why the error cannot be made here; empty where it can.
    """

    error: str
    words: str
    estimate: float
    low: float
    high: float
    level: float
    said: str
    times_estimate: float
    times_width: float
    why_not: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Careless(Shown):
    """Errors that published pools make, each made here on purpose.

    Attributes
    ----------
    weighing : Weighing
        The sound answer.
    answers : tuple of CarelessAnswer
    """

    weighing: Weighing
    answers: tuple[CarelessAnswer, ...]

    @property
    def sentence(self) -> str:
        """How many errors turn the verdict, and which moves the answer most."""
        possible = [each for each in self.answers if not each.why_not]
        made = [each for each in possible if each.estimate == each.estimate]
        if not made:
            return "None of the errors that audits count can be made with these records."
        show = self.weighing
        turned = [each for each in made if each.said != SAME]
        worst = max(made, key=lambda each: abs(each.estimate - show.estimate))
        how_many = {0: "none gives", 1: "1 gives"}.get(len(turned), f"{len(turned)} give")
        text = f"Of {count(len(possible), 'error')} that can be made here, "
        if unsized := [each.error for each in possible if each not in made]:
            verb = "gives" if len(unsized) == 1 else "give"
            text += f"{listed(unsized)} {verb} no estimate; of the other {len(made)}, "
        text += f"{how_many} another verdict"
        wrong, sound = show.text(worst.estimate), show.text(show.estimate)
        if wrong == sound:
            return f"{text}; none moves the estimate by as much as is printed."
        return (
            f"{text}; the one that moves the answer most, {worst.error}, puts it at {wrong} "
            f"instead of {sound}."
        )

    def _title(self) -> str:
        return f"What a careless reading would have said: {self.weighing.question.id}"

    def _rows(self) -> list[tuple[str, str]]:
        show = self.weighing
        sound = f"{show.text(show.estimate)} ({show.span(show.low, show.high)})"
        rows = [("in short", self.sentence), ("sound", f"{sound}: {show.verdict.sentence}")]
        for each in self.answers:
            if each.why_not:
                rows.append((each.error, f"cannot be made here: {each.why_not}"))
                continue
            if each.estimate != each.estimate:
                rows.append((each.error, f"{each.words}: {each.said}"))
                continue
            told = f"{show.text(each.estimate)} ({show.span(each.low, each.high)})"
            rows.append((each.error, f"{each.words}: {told}, {self.size_of(each)}: {each.said}"))
        return rows

    def size_of(self, answer: CarelessAnswer) -> str:
        """How far an error moves the answer, in words."""
        parts = []
        show = self.weighing
        if abs(answer.times_estimate - 1) > HARDLY:
            if show.verdict.direction_shown and answer.times_estimate > 0:
                times = number(answer.times_estimate, decimals=1)
                parts.append(f"{times} times the sound estimate")
            else:
                gap = show.text(answer.estimate - show.estimate)
                factor = "a factor of " if show.scale.kind == "log" else ""
                parts.append(f"off by {factor}{gap}")
        if abs(answer.times_width - 1) > HARDLY:
            way = "narrower" if answer.times_width < 1 else "wider"
            share = 100 * abs(answer.times_width - 1)
            if share <= 200:
                parts.append(f"an interval {number(share, decimals=0)} % {way}")
            else:
                parts.append(f"an interval {number(answer.times_width, decimals=1)} times as wide")
        return " and ".join(parts) or "hardly another answer here"


def careless(
    weighing: Weighing,
    studies: Mapping[str, Study],
    *,
    vocabulary: Vocabulary | None = None,
    suspects: Mapping[tuple[str, str], str] | None = None,
) -> Careless:
    """Make the errors that audits found in published pools, one at a time [1]_.

    A standard error taken for an SD; gains inside the trained groups taken for the effect; studies
    counted by p; correlated effects taken for independent ones; variances inside studies
    ignored; numbers that cannot be right kept in.

    Parameters
    ----------
    weighing : Weighing
    studies : mapping of str to Study
    vocabulary : Vocabulary, optional
    suspects : mapping of (study, outcome) to str, optional
        As in `weigh`.

    Returns
    -------
    Careless

    References
    ----------
    .. [1] Kadlec, D., Sainani, K. L., & Nimphius, S. (2023). With great power comes great
           responsibility: common errors in meta-analyses and meta-regressions in strength and
           conditioning research. Sports Med 53, 313-325.
    """
    made = (_se_for_sd, _within_groups, _votes, _independent, _unweighted, _kept)
    given = _Given(weighing, studies, vocabulary, suspects or {})
    return Careless(weighing, tuple(each(given) for each in made))


@dataclass(frozen=True, slots=True)
class _Given:
    weighing: Weighing
    studies: Mapping[str, Study]
    vocabulary: Vocabulary | None
    suspects: Mapping[tuple[str, str], str]

    @property
    def used(self):
        effects = self.weighing.effects
        return effects[effects["used"]]


def _answer(given: _Given, error: str, words: str, pooled, decisive, ninety) -> CarelessAnswer:
    weighing = given.weighing
    judged = verdict(
        low=decisive.low,
        high=decisive.high,
        low_90=ninety.low,
        high_90=ninety.high,
        worthwhile=weighing.worthwhile,
        intervention=weighing.intervention,
        comparator=weighing.comparator,
        metric=weighing.question.metric,
    )
    same = judged.sentence == weighing.verdict.sentence
    return _told(given, error, words, pooled, SAME if same else judged.sentence)


def _told(given: _Given, error: str, words: str, pooled, said: str) -> CarelessAnswer:
    weighing = given.weighing
    return CarelessAnswer(
        error=error,
        words=words,
        estimate=float(pooled.estimate),
        low=float(pooled.low),
        high=float(pooled.high),
        level=weighing.level,
        said=said,
        times_estimate=float(pooled.estimate / weighing.estimate) if weighing.estimate else np.nan,
        times_width=float((pooled.high - pooled.low) / (weighing.high - weighing.low)),
    )


def _cannot(error: str, words: str, why: str) -> CarelessAnswer:
    nan = float("nan")
    return CarelessAnswer(error, words, nan, nan, nan, nan, "", nan, nan, why)


def _pooled(given: _Given, effect, variance) -> tuple[PoolResult, ...]:
    """At the weighing's level, and at the two that decide a verdict."""
    model = given.weighing.question.model
    asked = {"between": model.between, "interval": model.interval}
    return tuple(
        pool(effect, variance, level=level, **asked) for level in (given.weighing.level, 0.95, 0.90)
    )


def _se_for_sd(given: _Given) -> CarelessAnswer:
    error, weighing = "SE taken for SD", given.weighing
    if weighing.question.metric in (*COUNT_METRICS, "correlation"):
        return _cannot(error, "", "counts and correlations come without an SD")
    names = list(dict.fromkeys(given.used["study"]))
    wrong = {name: _slipped(given, name, errors_as_spreads) for name in names}
    wrong = {name: study for name, study in wrong.items() if study is not None}
    words = f"standard errors of {', '.join(wrong)} entered as SDs"
    if not wrong:
        weights = weighing.studies.set_index("study")["weight"][names]
        for name in weights.sort_values(ascending=False, kind="stable").index:
            if (found := _slipped(given, name, spreads_as_errors)) is not None:
                break
        else:
            return _cannot(error, "", "no effect rests on a printed standard error or SD")
        wrong = {name: found}
        words = f"had {name} printed standard errors and had they been entered as SDs"
    studies = [wrong.get(name, study) for name, study in given.studies.items()]
    try:
        table = build_table(weighing.question, studies, given.vocabulary)
        again = weigh(
            weighing.question,
            table,
            suspects={key: why for key, why in given.suspects.items() if key[0] not in wrong},
            intervention=weighing.intervention,
            comparator=weighing.comparator,
        )
    except SteelyardError as refused:
        return _cannot(error, words, str(refused))
    same = again.verdict.sentence == weighing.verdict.sentence
    words = f"{words} ({_grown(weighing, again, list(wrong))})"
    return _told(given, error, words, again.pooled, SAME if same else again.verdict.sentence)


def _slipped(given: _Given, name: str, slip) -> Study | None:
    """The study with a slip in its spreads; None where no effect that is pooled moves by it."""
    wrong = slip(given.studies[name])
    if wrong is None:
        return None
    rows = build_table(given.weighing.question, [wrong], given.vocabulary).rows
    keys, values = ["outcome", "intervention", "comparator", "week"], ["effect", "variance"]
    mine = given.used[given.used["study"] == name]
    before = mine.set_index(keys)[values]
    after = rows.set_index(keys)[values].reindex(before.index).dropna()
    return None if after.eq(before.loc[after.index]).all(axis=None) else wrong


def _grown(weighing: Weighing, again: Weighing, names: list[str]) -> str:
    """What the slip does to the studies it is made in."""
    before, after = (
        each.studies.set_index("study").loc[names, ["effect", "weight"]]
        for each in (weighing, again)
    )
    weights = [number(100 * each["weight"].sum(), decimals=0) for each in (before, after)]
    text = f"their weight from {weights[0]} to {weights[1]} %"
    if weights[0] == weights[1]:
        text = f"their weight {weights[0]} % as before"
    times = float((after["effect"] / before["effect"]).abs().max())
    if times > 1 + HARDLY:
        text = f"their effects up to {number(times, decimals=1)} times as large, {text}"
    return text


def _within_groups(given: _Given) -> CarelessAnswer:
    error, weighing = "gains inside groups", given.weighing
    question = weighing.question
    words = "the trained groups' own gains taken for the effect"
    if question.dose is not None:
        words = "the gains of the arms with more taken for the effect of more"
    try:
        changes = arm_changes(given.used, given.studies.values(), question)
    except SteelyardError as refused:
        return _cannot(error, words, str(refused))
    keys = set(zip(given.used["study"], given.used["intervention"], strict=True))
    mine = [key in keys for key in zip(changes["study"], changes["arm"], strict=True)]
    changes = changes[np.array(mine, dtype=bool)]
    if changes["study"].nunique() < 2:
        return _cannot(error, words, "fewer than two papers print what their groups gained")
    rows = [
        composite_of_correlated(
            part["change"], part["variance"], correlation=r_between_outcomes(question)
        )
        for _, part in changes.groupby("study", sort=False)
    ]
    found = _pooled(given, [row.effect for row in rows], [row.variance for row in rows])
    return _answer(given, error, words, *found)


def _votes(given: _Given) -> CarelessAnswer:
    studies = given.weighing.studies
    studies = studies[studies["used"]]
    reach = float(ndtri(0.975)) * np.sqrt(studies["variance"])
    better = int((studies["effect"] > reach).sum())
    worse = int((studies["effect"] < -reach).sum())
    total = len(studies)
    silent = total - better - worse
    conclusion = (
        "most studies found nothing"
        if 2 * silent > total
        else "most studies found it to help"
        if 2 * better > total
        else "the studies disagree"
    )
    nan = float("nan")
    said = f"{better} of {total} significant in favour, {worse} against, {silent} not: {conclusion}"
    return CarelessAnswer("votes by p", "studies counted by p", nan, nan, nan, nan, said, nan, nan)


def _independent(given: _Given) -> CarelessAnswer:
    error, rows = "effects as independent", given.used
    words = f"{len(rows)} effects of {rows['study'].nunique()} studies as {len(rows)} studies"
    if given.weighing.question.dose is not None:
        return _cannot(error, words, "doses are pooled as one slope per study")
    if not rows["study"].duplicated().any():
        return _cannot(error, words, "every study gives one effect")
    return _answer(given, error, words, *_pooled(given, rows["effect"], rows["variance"]))


def _unweighted(given: _Given) -> CarelessAnswer:
    studies = given.weighing.studies
    values = studies.loc[studies["used"], "effect"].to_numpy(float)
    error = "variances ignored"
    words = "the plain mean of the studies, large and small alike, with the normal interval"
    if values.size < 2:
        return _cannot(error, words, "one study only")
    spread = values.std(ddof=1) / np.sqrt(values.size)
    if spread == 0:
        return _cannot(error, words, "all studies give the very same effect")
    return _answer(
        given,
        error,
        words,
        *(_Plain(values.mean(), spread, each) for each in (given.weighing.level, 0.95, 0.90)),
    )


class _Plain:
    """A mean with the normal interval."""

    def __init__(self, estimate: float, standard_error: float, level: float) -> None:
        half = float(ndtri((1 + level) / 2)) * standard_error
        self.estimate, self.low, self.high = estimate, estimate - half, estimate + half


def _kept(given: _Given) -> CarelessAnswer:
    error, weighing = "doubtful studies kept", given.weighing
    studies = weighing.studies
    kept = studies[~studies["study"].isin(studies.loc[studies["used"], "study"])]
    reasons = {out.study: out.reason for out in weighing.left_out}
    why = [reasons[study].removeprefix("held out: ").split("; ")[0] for study in kept["study"]]
    named = [f"{study} ({each})" for study, each in zip(kept["study"], why, strict=True)]
    words = f"kept in: {', '.join(named)}"
    suspect = weighing.without_suspects
    if kept.empty and suspect is None:
        return _cannot(error, words, "no number looks wrong and no study is retracted")
    if kept.empty:
        words = "numbers that look wrong are in the sound answer too, as the question asks"
        return _cannot(error, words, words)
    return _answer(given, error, words, *_pooled(given, studies["effect"], studies["variance"]))
