"""What a study's parts must have in common with each other and with the vocabulary.

Each rule is judged by itself, part by part, so that in a study with an `Unsound` value all the
others still are.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from steelyard.errors import Finding
from steelyard.records.people_counted import people_rules
from steelyard.records.reading import suggestion
from steelyard.records.study import Comparison, Result, Study
from steelyard.records.study_times import time_rules
from steelyard.records.unsound import is_known, judged, may_mean, numbered
from steelyard.records.vocabulary import Vocabulary


def study_findings(study: Study, vocabulary: Vocabulary | None, *, file: str) -> list[Finding]:
    """Every fault and warning that needs more than one part of a study to be seen.

    Parameters
    ----------
    study : Study
        One that failed validation as `sound_part` gives it.
    vocabulary : Vocabulary or None
        None where the library goes without.
    file : str
    """
    rules = [
        *_repeated(study),
        *_references(study),
        *people_rules(study),
        *time_rules(study),
        *_shape(study),
    ]
    if vocabulary is not None:
        rules += _words(study, vocabulary)
    return [
        Finding(file, path, severity, rule, message)
        for found in rules
        for path, severity, rule, message in judged(found)
    ]


def words_used(study: Study) -> Iterator[tuple[str, str, str]]:
    """Place, kind and id of every word of the vocabulary that a study uses."""
    for index, outcome in numbered(study.outcomes):
        for key, kind, word in (
            ("construct", "construct", outcome.construct_id),
            ("site", "site", outcome.site),
        ):
            if word is not None and is_known(word):
                yield f"outcome[{index}].{key}", kind, word
    for index, arm in numbered(study.arms):
        for _, tag in numbered(arm.tags):
            yield f"arm[{index}].tags", "tag", tag


Found = tuple[str, str, str, str]
Rules = Iterator[Iterable[Found]]
_COMPARED = ("outcome", "intervention", "comparator", "week")


def _repeated(study: Study) -> Rules:
    yield _repeated_ids("arm", study.arms)
    yield _repeated_ids("outcome", study.outcomes)
    yield _repeated_results(study)
    yield _repeated_comparisons(study)


def _repeated_ids(kind: str, parts: Iterable) -> Iterator[Found]:
    for part_id, times in Counter(_ids(parts)).items():
        if times > 1:
            message = f"expected each {kind} id once, found {part_id!r} {times} times"
            yield kind, "fault", "duplicate-id", message


def _ids(parts: Iterable) -> list[str]:
    return [part.id for _, part in numbered(parts) if is_known(part.id)]


def _repeated_results(study: Study) -> Iterator[Found]:
    cells = {
        index: (result.outcome, result.arm, result.week)
        for index, result in numbered(study.results)
        if all(map(is_known, (result.outcome, result.arm, result.week)))
    }
    times = Counter(cells.values())
    for index, (outcome, arm, week) in cells.items():
        if times[outcome, arm, week] > 1:
            message = (
                f"expected one result per outcome, arm and week, found {outcome!r}, "
                f"{arm!r}, week {week} more than once"
            )
            yield f"result[{index}]", "fault", "duplicate-result", message


def _repeated_comparisons(study: Study) -> Iterator[Found]:
    compared = {
        index: comparison
        for index, comparison in numbered(study.comparisons)
        if all(is_known(getattr(comparison, name)) for name in _COMPARED)
    }
    times = Counter(map(_compared, compared.values()))
    for index, comparison in compared.items():
        if times[_compared(comparison)] > 1:
            message = (
                f"expected one comparison per outcome, two arms and week, found "
                f"{comparison.outcome!r}, {comparison.intervention!r} with "
                f"{comparison.comparator!r}, week {comparison.week} more than once"
            )
            yield f"comparison[{index}]", "fault", "duplicate-comparison", message


def _compared(comparison: Comparison) -> tuple:
    """What a comparison is about, whichever way round it names its arms."""
    arms = frozenset((comparison.intervention, comparison.comparator))
    return comparison.outcome, arms, comparison.week


def _references(study: Study) -> Rules:
    arms = _Named("arm", study.arms, _used(study, "arm", "intervention", "comparator"))
    outcomes = _Named("outcome", study.outcomes, _used(study, "outcome"))
    for index, result in numbered(study.results):
        path = f"result[{index}]"
        yield outcomes.lacks(f"{path}.outcome", result.outcome)
        yield arms.lacks(f"{path}.arm", result.arm)
    for index, comparison in numbered(study.comparisons):
        path = f"comparison[{index}]"
        yield outcomes.lacks(f"{path}.outcome", comparison.outcome)
        yield arms.lacks(f"{path}.intervention", comparison.intervention)
        yield arms.lacks(f"{path}.comparator", comparison.comparator)
        yield _same_arm(path, comparison)


def _same_arm(path: str, comparison: Comparison) -> Iterator[Found]:
    if comparison.intervention == comparison.comparator:
        message = f"expected two different arms, found {comparison.comparator!r} twice"
        yield f"{path}.comparator", "fault", "same-arm", message


def _used(study: Study, *keys: str) -> Counter[str]:
    """How often each id is named under some keys of results and comparisons."""
    parts = (part for _, part in (*numbered(study.results), *numbered(study.comparisons)))
    words = (getattr(part, key, None) for part in parts for key in keys)
    return Counter(word for word in words if is_known(word) and word is not None)


class _Named:
    """The ids of a study's arms or outcomes, as far as they can be read."""

    def __init__(self, kind: str, parts: Iterable, used: Counter[str]) -> None:
        ids = _ids(parts)
        self.kind, self.known = kind, set(ids)
        # One of two by the same id is meant by another.
        self.twins = len(self.known) < len(ids)
        self.used = used
        self.unread = [parts] if not is_known(parts) else []
        if is_known(parts):
            ids = (part.id if is_known(part) else part for part in parts)
            self.unread = [each for each in ids if not is_known(each)]

    def lacks(self, path: str, word: str) -> Iterator[Found]:
        """A fault where a word is the id of none, nor of one that cannot be read."""
        if not is_known(word) or word in self.known:
            return
        if any(may_mean(each.raw, word) for each in self.unread):
            return
        if self.twins and self.used[word] > 1:
            return
        message = (
            f"expected the id of an {self.kind} of this study, found {word!r}"
            f"{suggestion(word, self.known)}"
        )
        yield path, "fault", f"unknown-{self.kind}", message


def _shape(study: Study) -> Rules:
    yield _single_group(study)
    yield _one_arm(study)
    yield _cluster(study)
    yield _something_found(study)
    for index, result in numbered(study.results):
        yield _not_empty(index, result)
    for index, comparison in numbered(study.comparisons):
        yield _compares(index, comparison)


def _single_group(study: Study) -> Iterator[Found]:
    if study.design.kind != "single-group":
        return
    # Two by one id are told as such.
    if len(study.arms) > 1 and len(set(_ids(study.arms))) != 1:
        message = f"expected one arm in a single-group study, found {len(study.arms)}"
        yield "arm", "fault", "single-group-arms", message
    if study.comparisons:
        message = "expected no comparison in a single-group study, found one"
        yield "comparison[1]", "fault", "single-group-arms", message


def _one_arm(study: Study) -> Iterator[Found]:
    if study.design.kind != "single-group" and len(study.arms) == 1:
        message = f"expected two arms or more in a {study.design.kind} study, found one"
        yield "arm", "warning", "one-arm", message


def _cluster(study: Study) -> Iterator[Found]:
    if study.design.kind == "cluster" and study.design.cluster_size is None:
        message = "expected the mean cluster size, found none: people in a cluster are alike"
        yield "design.cluster_size", "warning", "cluster-size-missing", message


def _something_found(study: Study) -> Iterator[Found]:
    if not study.results and not study.comparisons:
        message = "expected at least one result or comparison, found none"
        yield "result", "fault", "no-results", message


def _not_empty(index: int, result: Result) -> Iterator[Found]:
    names = ("pre", "post", "change", "change_percent", "events", "correlation")
    if all(getattr(result, name) is None for name in names):
        message = "expected pre, post, change, change_percent, events or correlation, found none"
        yield f"result[{index}]", "fault", "empty-result", message


def _compares(index: int, comparison: Comparison) -> Iterator[Found]:
    numbers = (
        *("difference", "standardised", "log_ratio_of_means", "log_risk_ratio"),
        *("log_odds_ratio", "risk_difference", "log_sd_ratio", "t", "f", "p"),
    )
    if all(getattr(comparison, name) is None for name in numbers):
        message = "expected an effect or a test, found neither"
        yield f"comparison[{index}]", "fault", "empty-comparison", message


def _words(study: Study, vocabulary: Vocabulary) -> Rules:
    for path, kind, word in words_used(study):
        yield _found_word(path, kind, word, vocabulary)


def _found_word(path: str, kind: str, word: str, vocabulary: Vocabulary) -> Iterator[Found]:
    """A fault where a word is none of the vocabulary's."""
    known = vocabulary.words(kind)
    if word not in known:
        message = f"expected a {kind} from vocabulary.toml, found {word!r}{suggestion(word, known)}"
        yield path, "fault", f"unknown-{kind}", message
