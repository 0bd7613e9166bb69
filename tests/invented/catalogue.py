"""All invented studies, in the order of their ids."""

from __future__ import annotations

from tests.invented import (
    many_outcomes_trial,
    odd_studies,
    one_leg_trials,
    printed_every_way,
    rest_trials,
    slow_lowering_trials,
    weekly_sets_trials,
)

PLANS = tuple(
    sorted(
        (
            *slow_lowering_trials.PLANS,
            *odd_studies.PLANS,
            *many_outcomes_trial.PLANS,
            *rest_trials.PLANS,
            *weekly_sets_trials.PLANS,
            *one_leg_trials.PLANS,
            *printed_every_way.PLANS,
        ),
        key=lambda plan: plan.id,
    )
)
