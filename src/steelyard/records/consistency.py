"""What a study's parts must have in common with each other and with the vocabulary."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from steelyard.errors import Finding
from steelyard.records.reading import suggestion
from steelyard.records.study import Comparison, Study
from steelyard.records.vocabulary import Vocabulary


def study_findings(study: Study, vocabulary: Vocabulary | None, *, file: str) -> list[Finding]:
    """Every fault and warning that needs more than one part of a study to be seen."""
    found = [
        *_repeated_ids(study),
        *_references(study),
        *_sizes(study),
        *_times(study),
        *_shape(study),
    ]
    if vocabulary is not None:
        found += _words(study, vocabulary)
    return [Finding(file, path, severity, rule, message) for path, severity, rule, message in found]


Found = tuple[str, str, str, str]


def _repeated_ids(study: Study) -> Iterator[Found]:
    for name, parts in (("arm", study.arms), ("outcome", study.outcomes)):
        for part_id, times in Counter(part.id for part in parts).items():
            if times > 1:
                message = f"expected each {name} id once, found {part_id!r} {times} times"
                yield name, "fault", "duplicate-id", message
    cells = Counter((r.outcome, r.arm, r.week) for r in study.results)
    for index, result in enumerate(study.results, 1):
        if cells[result.outcome, result.arm, result.week] > 1:
            message = (
                f"expected one result per outcome, arm and week, found {result.outcome!r}, "
                f"{result.arm!r}, week {result.week} more than once"
            )
            yield f"result[{index}]", "fault", "duplicate-result", message
    compared = Counter(_compared(comparison) for comparison in study.comparisons)
    for index, comparison in enumerate(study.comparisons, 1):
        if compared[_compared(comparison)] > 1:
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


def _references(study: Study) -> Iterator[Found]:
    arms = {arm.id for arm in study.arms}
    outcomes = {outcome.id for outcome in study.outcomes}
    for index, result in enumerate(study.results, 1):
        yield from part_of_study(f"result[{index}].outcome", "outcome", result.outcome, outcomes)
        yield from part_of_study(f"result[{index}].arm", "arm", result.arm, arms)
    for index, comparison in enumerate(study.comparisons, 1):
        path = f"comparison[{index}]"
        yield from part_of_study(f"{path}.outcome", "outcome", comparison.outcome, outcomes)
        yield from part_of_study(f"{path}.intervention", "arm", comparison.intervention, arms)
        yield from part_of_study(f"{path}.comparator", "arm", comparison.comparator, arms)
        if comparison.intervention == comparison.comparator:
            message = f"expected two different arms, found {comparison.comparator!r} twice"
            yield f"{path}.comparator", "fault", "same-arm", message


def part_of_study(path: str, kind: str, word: str, known: set[str]) -> Iterator[Found]:
    """A fault where a word is the id of no arm, or no outcome, of the study."""
    if word not in known:
        message = (
            f"expected the id of an {kind} of this study, found {word!r}{suggestion(word, known)}"
        )
        yield path, "fault", f"unknown-{kind}", message


def _sizes(study: Study) -> Iterator[Found]:
    sizes = {arm.id: arm.n for arm in study.arms}
    for index, result in enumerate(study.results, 1):
        path, arm_n = f"result[{index}]", sizes.get(result.arm)
        n = result.n or arm_n
        if n is None and result.arm in sizes:
            message = "expected n here or in the arm, found neither"
            yield f"{path}.n", "fault", "needs-n", message
        if arm_n is not None and result.n is not None and result.n > arm_n:
            message = f"n analysed {result.n} is above the arm's n {arm_n}"
            yield f"{path}.n", "warning", "n-above-arm", message
        for name in ("pre", "post", "change"):
            spread = getattr(result, name)
            people = spread.n_in_groups if spread is not None else None
            if people is not None and n is not None and people != n:
                message = f"expected groups of {n} people in all, found {people}"
                yield f"{path}.{name}", "fault", "groups-n", message
        if n is not None and result.events is not None and result.events > n:
            message = f"expected at most {n} people with an event, found {result.events}"
            yield f"{path}.events", "fault", "events-above-n", message
    for index, comparison in enumerate(study.comparisons, 1):
        for name, arm in (("n_intervention", "intervention"), ("n_comparator", "comparator")):
            people, arm_n = getattr(comparison, name), sizes.get(getattr(comparison, arm))
            if people is not None and arm_n is not None and people > arm_n:
                message = f"n compared {people} is above the arm's n {arm_n}"
                yield f"comparison[{index}].{name}", "warning", "n-above-arm", message
    yield from _against_randomised(study)


def _against_randomised(study: Study) -> Iterator[Found]:
    """More people in the numbers than were randomised: over all arms, or in one they all pass."""
    randomised = study.population.n_randomised
    if not randomised:
        return
    people = {arm.id: arm.n or 0 for arm in study.arms}
    counted = [(result.arm, result.n) for result in study.results]
    for comparison in study.comparisons:
        counted.append((comparison.intervention, comparison.n_intervention))
        counted.append((comparison.comparator, comparison.n_comparator))
    for arm, n in counted:
        if arm in people and n is not None:
            people[arm] = max(people[arm], n)
    apart = study.design.kind in ("parallel", "cluster")
    most = sum(people.values()) if apart else max(people.values(), default=0)
    if most <= randomised:
        return
    if apart:
        each = ", ".join(f"{n} in {arm}" for arm, n in people.items() if n)
        message = f"the arms hold {most} people ({each}), more than the {randomised} randomised"
    else:
        arm = max(people, key=people.get)
        message = (
            f"{most} people in {arm}, more than the {randomised} randomised, each of whom "
            "stands in every arm"
        )
    yield "population.n_randomised", "warning", "n-above-randomised", message


def _times(study: Study) -> Iterator[Found]:
    before = {(r.outcome, r.arm) for r in study.results if r.pre is not None}
    measured_before: dict[str, str] = {}
    for outcome, arm in sorted(before):
        measured_before.setdefault(outcome, arm)
    for index, result in enumerate(study.results, 1):
        path = f"result[{index}]"
        has_post = result.post is not None and result.change is None
        if has_post and (result.outcome, result.arm) not in before:
            if study.design.kind == "single-group":
                message = "expected pre beside post, found none: nothing can be said of a change"
                yield f"{path}.post", "fault", "post-without-pre", message
            elif result.outcome in measured_before and result.change_percent is None:
                message = (
                    f"expected pre beside post, as {measured_before[result.outcome]!r} has it for "
                    f"{result.outcome!r}, found none: give it in every arm of the outcome (as read "
                    "off a figure or told by the authors, if need be), or leave this result out"
                )
                yield f"{path}.post", "fault", "post-without-pre", message
            else:
                printed = (result.post.mean, result.post.median)
                value = next((f" {each}" for each in printed if each is not None), "")
                message = (
                    f"post{value} stands without pre: only post-training scores can be "
                    "compared, which leaves baseline gaps in"
                )
                yield f"{path}.post", "warning", "post-without-pre", message
        empty = all(
            getattr(result, name) is None
            for name in ("pre", "post", "change", "change_percent", "events", "correlation")
        )
        if empty:
            message = (
                "expected pre, post, change, change_percent, events or correlation, found none"
            )
            yield path, "fault", "empty-result", message


def _shape(study: Study) -> Iterator[Found]:
    if study.design.kind == "single-group" and len(study.arms) > 1:
        message = f"expected one arm in a single-group study, found {len(study.arms)}"
        yield "arm", "fault", "single-group-arms", message
    if study.design.kind == "single-group" and study.comparisons:
        message = "expected no comparison in a single-group study, found one"
        yield "comparison[1]", "fault", "single-group-arms", message
    if study.design.kind != "single-group" and len(study.arms) == 1:
        message = f"expected two arms or more in a {study.design.kind} study, found one"
        yield "arm", "warning", "one-arm", message
    if study.design.kind == "cluster" and study.design.cluster_size is None:
        message = "expected the mean cluster size, found none: people in a cluster are alike"
        yield "design.cluster_size", "warning", "cluster-size-missing", message
    if not study.results and not study.comparisons:
        message = "expected at least one result or comparison, found none"
        yield "result", "fault", "no-results", message
    for index, comparison in enumerate(study.comparisons, 1):
        numbers = (
            *("difference", "standardised", "log_ratio_of_means", "log_risk_ratio"),
            *("log_odds_ratio", "risk_difference", "log_sd_ratio", "t", "f", "p"),
        )
        if all(getattr(comparison, name) is None for name in numbers):
            message = "expected an effect or a test, found neither"
            yield f"comparison[{index}]", "fault", "empty-comparison", message


def _words(study: Study, vocabulary: Vocabulary) -> Iterator[Found]:
    constructs, sites = vocabulary.words("construct"), vocabulary.words("site")
    tags = vocabulary.words("tag")
    for index, outcome in enumerate(study.outcomes, 1):
        path = f"outcome[{index}]"
        yield from found_word(f"{path}.construct", "construct", outcome.construct_id, constructs)
        if outcome.site is not None:
            yield from found_word(f"{path}.site", "site", outcome.site, sites)
    for index, arm in enumerate(study.arms, 1):
        for tag in arm.tags:
            yield from found_word(f"arm[{index}].tags", "tag", tag, tags)


def found_word(path: str, kind: str, word: str, known: set[str]) -> Iterator[Found]:
    """A fault where a word is none of the vocabulary's."""
    if word not in known:
        message = f"expected a {kind} from vocabulary.toml, found {word!r}{suggestion(word, known)}"
        yield path, "fault", f"unknown-{kind}", message
