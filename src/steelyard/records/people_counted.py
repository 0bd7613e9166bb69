"""Numbers of people in a study that must fit each other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from steelyard.records.study import Comparison, Result, Study
from steelyard.records.unsound import Unsound, is_known, numbered

Found = tuple[str, str, str, str]


def people_rules(study: Study) -> Iterator[Iterable[Found]]:
    """What each rule finds, part by part; see `study_findings`."""
    sizes = _sizes(study)
    for index, result in numbered(study.results):
        path = f"result[{index}]"
        yield _needs_n(path, result, sizes)
        yield _analysed(path, result, sizes)
        for name in ("pre", "post", "change"):
            if getattr(result, name) is not None:
                yield _groups(path, name, result, sizes)
        if result.events is not None:
            yield _events(path, result, sizes)
    for index, comparison in numbered(study.comparisons):
        for name, arm in (("n_intervention", "intervention"), ("n_comparator", "comparator")):
            if getattr(comparison, name) is not None:
                yield _compared(f"comparison[{index}].{name}", comparison, name, arm, sizes)
    yield _against_randomised(study)


def _sizes(study: Study) -> dict[str, Any]:
    """The n of each arm whose id can be read; that of two arms by one id only where they agree."""
    sizes: dict[str, Any] = {}
    for _, arm in numbered(study.arms):
        if is_known(arm.id):
            n = sizes.get(arm.id, arm.n)
            agree = n is arm.n or (is_known(n) and is_known(arm.n) and n == arm.n)
            sizes[arm.id] = n if agree else Unsound()
    return sizes


def _people(result: Result, sizes: dict[str, Any]) -> Any:
    return result.n if result.n is not None else sizes.get(result.arm)


def _needs_n(path: str, result: Result, sizes: dict[str, Any]) -> Iterator[Found]:
    if result.arm in sizes and _people(result, sizes) is None:
        yield f"{path}.n", "fault", "needs-n", "expected n here or in the arm, found neither"


def _analysed(path: str, result: Result, sizes: dict[str, Any]) -> Iterator[Found]:
    arm_n = sizes.get(result.arm)
    if arm_n is not None and result.n is not None and result.n > arm_n:
        message = f"n analysed {result.n} is above the arm's n {arm_n}"
        yield f"{path}.n", "warning", "n-above-arm", message


def _groups(path: str, name: str, result: Result, sizes: dict[str, Any]) -> Iterator[Found]:
    people, n = getattr(result, name).n_in_groups, _people(result, sizes)
    if people is not None and n is not None and people != n:
        message = f"expected groups of {n} people in all, found {people}"
        yield f"{path}.{name}", "fault", "groups-n", message


def _events(path: str, result: Result, sizes: dict[str, Any]) -> Iterator[Found]:
    n = _people(result, sizes)
    if n is not None and result.events > n:
        message = f"expected at most {n} people with an event, found {result.events}"
        yield f"{path}.events", "fault", "events-above-n", message


def _compared(
    path: str, comparison: Comparison, name: str, arm: str, sizes: dict[str, Any]
) -> Iterator[Found]:
    people, arm_n = getattr(comparison, name), sizes.get(getattr(comparison, arm))
    if arm_n is not None and people > arm_n:
        message = f"n compared {people} is above the arm's n {arm_n}"
        yield path, "warning", "n-above-arm", message


def _against_randomised(study: Study) -> Iterator[Found]:
    """More people in the numbers than were randomised: over all arms, or in one they all pass.

    What cannot be read could only add to them.
    """
    randomised = study.population.n_randomised
    if not randomised:
        return
    sizes = _sizes(study)
    people = {arm: n or 0 for arm, n in sizes.items() if is_known(n)}
    counted = [(result.arm, result.n) for _, result in numbered(study.results)]
    for _, comparison in numbered(study.comparisons):
        counted.append((comparison.intervention, comparison.n_intervention))
        counted.append((comparison.comparator, comparison.n_comparator))
    for arm, n in counted:
        if is_known(arm) and arm in people and n is not None and is_known(n):
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
