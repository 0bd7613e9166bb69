"""What is said of a dose beside what was tested."""

from __future__ import annotations

from steelyard import open_library
from steelyard.judging import pictures_dose
from steelyard.judging.dose import check_dose


def test_added_work_is_said_to_be_added():
    # One study names its exercises, in one arm: how many were added it does not say.
    library = open_library()
    record = library.recommendations["add-slow-lowering"]
    weighing = library.weigh(record.questions[0])
    checks = check_dose(record, weighing, library.studies)
    used = set(weighing.effects.loc[weighing.effects["used"], "study"])
    arms = [arm for study in used for arm in library.studies[study].arms]
    assert sum(arm.dose.exercises is not None for arm in arms) == 1
    sentence = pictures_dose.dose_sentence(checks)
    assert "added exercises, added sets a session: told by no pooled study" in sentence.replace(
        "Added", "added"
    )
    assert "added exercises" in list(pictures_dose.tested_dose_data(checks, weighing).parts["part"])
