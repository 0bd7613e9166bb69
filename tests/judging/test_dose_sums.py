"""Sessions × exercises × sets against the sets a week that a dose names."""

from __future__ import annotations

import pytest

from steelyard import open_library
from steelyard.judging.dose_sums import sets_in_a_week
from steelyard.records.recommendation import RecommendedDose
from tests.judging.reviewed_library import recommendation
from tests.small_library import question


@pytest.mark.parametrize(
    ("sessions", "exercises", "sets", "week", "fits"),
    [
        ([2, 2], [2, 3], [4, 6], [8, 12], False),  # 16 to 36 follow
        ([2, 2], [2, 3], [2, 2], [8, 12], True),
        ([2, 2], [1, 1], [2, 2], [4, 4], True),
        ([2, 2], [1, 1], [2, 2], [4, 5], False),
        ([2, 2], [1, 1], [2, 2], [3, 4], False),
        ([1, 3], [2, 2], [2, 4], [8, 12], True),  # narrower than the 4 to 24 that follow
    ],
)
def test_a_week_that_cannot_come_of_its_sessions_is_found(
    tmp_path, sessions, exercises, sets, week, fits
):
    parts = {"sessions_per_week": sessions, "exercises": exercises, "sets": sets}
    parts["sets_per_week"] = week
    dose = "\n".join(f"{name} = {value}" for name, value in parts.items())
    question(tmp_path)
    recommendation(tmp_path, more=f"[dose]\n{dose}")
    found = [each for each in open_library(tmp_path).check() if each.rule == "dose-does-not-add-up"]
    assert bool(found) is not fits
    for each in found:
        low, high = (sessions[end] * exercises[end] * sets[end] for end in (0, 1))
        assert f"come to {low}" in each.message and str(high) in each.message
        assert (each.file, each.path) == ("recommendations/lower.toml", "dose.sets_per_week")


@pytest.mark.parametrize("missing", ["sessions_per_week", "exercises", "sets"])
def test_what_is_not_said_is_not_multiplied(missing):
    parts = {"sessions_per_week": [2, 2], "exercises": [2, 2], "sets": [4, 4]}
    assert sets_in_a_week(RecommendedDose.model_validate(parts)) == (16, 16)
    parts.pop(missing)
    assert sets_in_a_week(RecommendedDose.model_validate(parts)) is None
