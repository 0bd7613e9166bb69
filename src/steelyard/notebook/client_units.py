"""An answer's size in a client's unit, for the first lines of a page."""

from __future__ import annotations

from steelyard.explaining.client_sizes import ClientSizes, client_sizes
from steelyard.explaining.evidence import Evidence
from steelyard.explaining.wording.rounding import rounded_to_support
from steelyard.notebook.answer import Answer
from steelyard.records.question import COUNT_METRICS
from steelyard.show import interval, number


def in_client_units(answer: Answer) -> str:
    """Size and interval in the unit that the question names for clients, as one sentence.

    Parameters
    ----------
    answer : Answer

    Returns
    -------
    str
        Such as ``About +16 N (+12 to +20), +8 % of a usual start.``; for counts, people of 100
        with each of the two. Empty where nothing was pooled, or where the question gives neither
        the unit nor what leads to it.
    """
    if answer.weighing is None:
        return ""
    sizes = _sizes(answer)
    if sizes.average is None:
        return ""
    if answer.question.metric in COUNT_METRICS:
        return _counted(sizes, answer)
    turn, average = _turn(sizes), sizes.average
    text = f"About {_amount(average, unit=f' {sizes.unit}', turn=turn)}"
    low, high = sorted((turn * average.low, turn * average.high))
    decimals = rounded_to_support(low, high, low=low, high=high).decimals
    text += f" ({interval(low, high, decimals=decimals)})"
    if sizes.percent is not None and answer.question.metric != "percent":
        text += f", {_amount(sizes.percent, unit=' %', turn=turn)} of a usual start"
    return f"{text}{_per_step(answer)}."


def next_in_client_units(answer: Answer) -> str:
    """The range for the next study in the same unit; empty where there is none, or one already."""
    if answer.weighing is None or answer.question.metric == "raw":
        return ""
    sizes = _sizes(answer)
    band = sizes.next_group
    if sizes.average is None or band is None:
        return ""
    if answer.question.metric in COUNT_METRICS:
        span = interval(band.low, band.high, decimals=0, sign=False)
        return f"Of 100 people, {span} with {answer.weighing.intervention}."
    low, high = sorted((_turn(sizes) * band.low, _turn(sizes) * band.high))
    decimals = rounded_to_support(low, high, low=low, high=high).decimals
    return f"In {sizes.unit} that is {interval(low, high, decimals=decimals)}{_per_step(answer)}."


def _sizes(answer: Answer) -> ClientSizes:
    library = answer.library
    return client_sizes(
        Evidence(answer.question, answer.weighing, "", None, library.studies, library.vocabulary)
    )


def _turn(sizes: ClientSizes) -> float:
    """−1 where lower is better: it is told as it would be measured, as less."""
    return -1.0 if sizes.kind == "lower" else 1.0


def _per_step(answer: Answer) -> str:
    dose = answer.question.dose
    if dose is None:
        return ""
    step = float(answer.question.dose_step or 1)
    return f", for every {step:g} more {dose.replace('_', ' ')}"


def _amount(size, *, unit: str, turn: float) -> str:
    found = rounded_to_support(turn * size.value, low=size.low, high=size.high)
    return number(found.values[0], decimals=found.decimals, sign=True) + unit


def _counted(sizes: ClientSizes, answer: Answer) -> str:
    average, weighing = sizes.average, answer.weighing
    span = interval(average.low, average.high, decimals=0, sign=False)
    return (
        f"Of 100 people about {number(average.value, decimals=0)} ({span}) with "
        f"{weighing.intervention}, {number(sizes.without, decimals=0)} with {weighing.comparator}."
    )
