"""Scores after training that need those before it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from steelyard.records.study import Result, Study
from steelyard.records.unsound import Unsound, is_known, numbered

Found = tuple[str, str, str, str]


def time_rules(study: Study) -> Iterator[Iterable[Found]]:
    """What each rule finds, result by result; see `study_findings`."""
    before = _Before(study)
    if is_known(study.results) and not all(map(is_known, study.results)):
        # Any pre may stand in a result that cannot be looked at.
        return
    for index, result in numbered(study.results):
        if result.post is not None and result.change is None:
            yield _post_without_pre(f"result[{index}].post", result, study, before)


class _Before:
    """Which arm was measured before training, outcome by outcome."""

    def __init__(self, study: Study) -> None:
        self.arms, self.outcomes = _ids(study.arms), _ids(study.outcomes)
        self.cells: set[tuple[str, str]] = set()
        self.filled: set[tuple[str, str, object]] = set()
        # Where a pre may stand under a key that cannot be told.
        self.possible: set[tuple[str, str]] = set()
        # Results with a pre, whose arm or outcome cannot be told.
        self.unplaced: list[Result] = []
        for _, result in numbered(study.results):
            placed = self._placed(result)
            if placed and is_known(result.week):
                self.filled.add((result.outcome, result.arm, result.week))
            if result.pre is None:
                continue
            if isinstance(result.pre, Unsound) and result.pre.stray:
                if placed:
                    self.possible.add((result.outcome, result.arm))
            elif placed:
                self.cells.add((result.outcome, result.arm))
            else:
                self.unplaced.append(result)
        self.measured: dict[str, str] = {}
        for outcome, arm in sorted(self.cells):
            self.measured.setdefault(outcome, arm)

    def _placed(self, result: Result) -> bool:
        return all(
            is_known(word) and word in known
            for word, known in ((result.outcome, self.outcomes), (result.arm, self.arms))
        )

    def may_hold(self, outcome: str, arm: object) -> bool:
        """Whether the arm's pre may stand in a result that cannot be placed."""
        return any(
            self._may_be(each.outcome, outcome, self.outcomes)
            and (not is_known(arm) or self._may_be(each.arm, arm, self.arms))
            # Two results for one week there are none.
            and not (is_known(each.week) and (outcome, arm, each.week) in self.filled)
            for each in self.unplaced
        )

    def may_be_measured(self, outcome: str) -> bool:
        """Whether some arm's pre of the outcome may stand in a result that cannot be placed."""
        return any(outcome == other for other, _ in self.possible) or any(
            self._may_be(each.outcome, outcome, self.outcomes) for each in self.unplaced
        )

    def may_stand_elsewhere(self, result: Result) -> bool:
        """Whether a result whose arm cannot be told may be of one with a pre in another week."""
        if is_known(result.arm) and result.arm in self.arms:
            return False
        return any(
            outcome == result.outcome and (outcome, arm, result.week) not in self.filled
            for outcome, arm in self.cells
        )

    def _may_be(self, word: object, known_word: str, known: set[str]) -> bool:
        return not is_known(word) or word == known_word or word not in known


def _ids(parts: Iterable) -> set[str]:
    return {part.id for _, part in numbered(parts) if is_known(part.id)}


def _post_without_pre(path: str, result: Result, study: Study, before: _Before) -> Iterator[Found]:
    outcome, arm = result.outcome, result.arm
    if result.pre is not None or outcome not in before.outcomes:
        return
    if before.may_stand_elsewhere(result) or before.may_hold(outcome, arm):
        return
    if is_known(arm) and (outcome, arm) in before.cells | before.possible:
        return
    kind = study.design.kind
    if is_known(kind) and kind == "single-group":
        message = "expected pre beside post, found none: nothing can be said of a change"
        yield path, "fault", "post-without-pre", message
    elif outcome in before.measured and result.change_percent is None:
        message = (
            f"expected pre beside post, as {before.measured[outcome]!r} has it for "
            f"{outcome!r}, found none: give it in every arm of the outcome (as read "
            "off a figure or told by the authors, if need be), or leave this result out"
        )
        yield path, "fault", "post-without-pre", message
    elif is_known(kind) and (
        result.change_percent is not None or not before.may_be_measured(outcome)
    ):
        printed = (result.post.mean, result.post.median)
        value = next((f" {each}" for each in printed if each is not None and is_known(each)), "")
        message = (
            f"post{value} stands without pre: only post-training scores can be "
            "compared, which leaves baseline gaps in"
        )
        yield path, "warning", "post-without-pre", message
