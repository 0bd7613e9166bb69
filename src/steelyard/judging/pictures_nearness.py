"""How near the studies are to the person asked about, as a picture shows it."""

from __future__ import annotations

import pandas as pd

from steelyard.judging.directness import Directness
from steelyard.judging.person import Person
from steelyard.pooling.forest_data import TITLE_NOTE_INVENTED
from steelyard.pooling.pictures import NearnessData
from steelyard.pooling.weighing import Weighing
from steelyard.show import count

WHAT_IS_ASKED = "what is asked"


def nearness_data(near: Directness, weighing: Weighing) -> NearnessData:
    """A bar per respect in which a person is described.

    Parameters
    ----------
    near : Directness
    weighing : Weighing
        Whose weight it is.

    Returns
    -------
    NearnessData
        Percent of the weight.
    """
    asked = asked_in_words(near.person)
    rows = [
        {"respect": respect, "asked": asked.get(respect, WHAT_IS_ASKED), "near": 100 * share}
        for respect, share in near.shares.items()
    ]
    return NearnessData(
        title="How near are the studies to the person asked about?",
        subtitle=near.sentence,
        notes=(TITLE_NOTE_INVENTED,) if weighing.invented else (),
        respects=pd.DataFrame(rows, columns=["respect", "asked", "near"]),
    )


def near_alone(near: Directness, weighing: Weighing) -> str:
    """What the near studies say without the others; empty where that is none or all of them."""
    if near.near is None:
        return ""
    alone = near.near
    return (
        f"The {count(len(near.matching), 'study', 'studies')} like it in {near.compared} "
        f"alone: {weighing.text(alone.estimate)}, "
        f"{weighing.span(alone.low, alone.high)}."
    )


def asked_in_words(person: Person) -> dict[str, str]:
    """What is asked about, in words, by respect."""
    found = {"training status": " or ".join(person.training_status)}
    ages = [age for age in (person.age_low, person.age_high) if age is not None]
    if ages:
        low, high = ages[0], ages[-1]
        found["age"] = f"{low:g}" if low == high else f"{low:g} to {high:g}"
        if len(ages) == 1:
            found["age"] = f"{low:g} or more" if person.age_low is not None else f"{low:g} or less"
    for respect, value in (
        ("sex", person.sex),
        ("length", person.duration_weeks and f"{person.duration_weeks:g} weeks"),
        ("sessions a week", person.sessions_per_week and f"{person.sessions_per_week:g}"),
        ("weekly sets", person.sets_per_week and f"{person.sets_per_week:g}"),
        ("held equal", person.equated),
        ("measure", person.measure),
        ("part of the body", person.site),
    ):
        if value:
            found[respect] = value
    return found
