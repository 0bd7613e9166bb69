"""Every way to weigh a question, as sentences and as what its picture shows."""

from __future__ import annotations

import numpy as np
import pandas as pd

from steelyard.pooling.every_choice import EveryChoice
from steelyard.pooling.forest_data import axis_title
from steelyard.pooling.pictures import Choice, ChoicesData, EffectAxis
from steelyard.pooling.side_words import axis_words, favourable, sides_of, unfavourable
from steelyard.pooling.verdict import BETTER, EQUIVALENT, NOT_SETTLED, WORSE
from steelyard.show import count, number

# Own rule: below one pair in a hundred a choice does not decide anything.
NEGLIGIBLE_FLIPS = 0.01
SHARED_FAULTS = "A fault that the studies share is in all of these ways."


def choices_sentence(every: EveryChoice) -> str:
    """How many ways say what, and what the answer turns on."""
    ways, weighing = every.ways, every.weighing
    if weighing.worthwhile is None:
        favour = int((ways["estimate"] > 0).sum())
        return (
            f"Of {_ways_to_weigh(every)}, {favour:,} say that on average "
            f"{favourable(weighing)}; {_turns_on(every)}."
        )
    shown = ways["verdict"].value_counts()
    told = {
        BETTER: f"say with all of their interval that {favourable(weighing)} by enough",
        WORSE: f"say with all of their interval that {unfavourable(weighing)} by enough",
        EQUIVALENT: "say with all of their 90 % interval that it is too small to matter",
        NOT_SETTLED: "leave it open",
    }
    if len(shown) == 1:
        word = shown.index[0]
        text = f"All {_ways_to_weigh(every)} {told[word]}"
        if word == NOT_SETTLED:
            return f"{text}; {_on_average(every)}."
        return f"{text}: no choice turns it. {SHARED_FAULTS}"
    parts = [f"{shown[word]:,} {text}" for word, text in told.items() if shown.get(word, 0)]
    first = f"Of {_ways_to_weigh(every)}, {_on_average(every)}"
    return f"{first}; {', '.join(parts[:-1])} and {parts[-1]}. {_capital(_turns_on(every))}."


def _ways_to_weigh(every: EveryChoice) -> str:
    """How many ways, and among them how many answers, where some agree in every number."""
    told = f"{count(len(every.ways), 'way')} to weigh this"
    if every.answers == len(every.ways):
        return told
    return f"{told} ({count(every.answers, 'different answer')})"


def _on_average(every: EveryChoice) -> str:
    """How many ways put the average beyond the smallest worthwhile effect."""
    ways, weighing = every.ways, every.weighing
    ahead, behind = int((ways["multiple"] > 1).sum()), int((ways["multiple"] < -1).sum())
    clause = favourable(weighing)
    if behind > ahead:
        ahead, clause = behind, unfavourable(weighing)
    if not ahead:
        return "none says that the average difference is worth having"
    how_many = "all" if ahead == len(ways) else f"{ahead:,}"
    verb = "says" if ahead == 1 else "say"
    return f"{how_many} {verb} that on average {clause} by more than the smallest worthwhile effect"


def _turns_on(every: EveryChoice) -> str:
    if every.ways["verdict"].nunique() < 2 or not every.turning:
        return "whichever is taken, the verdict stays the same"
    first = every.turning[0]
    if first.flips < NEGLIGIBLE_FLIPS:
        return "no choice by itself decides the verdict"
    return (
        f"the answer turns most on {_bare(first.words)}: that choice alone changes it in "
        f"{number(100 * first.flips, decimals=0)} of 100 pairs of ways"
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _bare(words: str) -> str:
    return {
        "several effects of one study": "how several effects of one study are handled",
        "interval": "the form of the interval",
        "metric": "the metric",
        "variance between studies": "the estimator of the variance between studies",
    }.get(words, words if words.startswith(("which", "what")) else f"the {words}")


def choices_rows(every: EveryChoice) -> list[tuple[str, str]]:
    """Rows for the terminal and the notebook."""
    ways = every.ways
    rows = [("in short", every.sentence)]
    if every.answers < len(ways):
        same = len(ways) - every.answers
        rows.append(
            (
                "different answers",
                f"{every.answers:,}: {count(same, 'further way')} of {len(ways):,} "
                f"{'gives' if same == 1 else 'give'} the very numbers of another",
            )
        )
    if every.one_metric:
        show = every.weighing.span
        rows.append(("estimates", show(ways["estimate"].min(), ways["estimate"].max())))
        rows.append(("ends of intervals", show(ways["low"].min(), ways["high"].max())))
    else:
        ends = ways["multiple"].min(), ways["multiple"].max()
        text = " to ".join(number(end, decimals=1, sign=True) for end in ends)
        rows.append(("estimates", f"{text} times the smallest worthwhile effect"))
    for each in every.turning:
        rows.append(
            (
                each.words,
                f"changes the verdict in {number(100 * each.flips, decimals=0)} of 100 pairs; goes "
                f"with {number(100 * each.spread, decimals=0)} % of the spread of estimates",
            )
        )
    return rows + [("note", note) for note in every.notes]


def choices_data(every: EveryChoice) -> ChoicesData:
    """What the picture of every choice shows.

    In the question's own unit where all ways are in it, in multiples of the smallest worthwhile
    effect otherwise.
    """
    weighing = every.weighing
    scale = weighing.scale
    columns = [dial.column for dial in every.dials]
    ways = every.ways[columns].copy()
    if every.one_metric:
        values = every.ways[["estimate", "low", "high"]].to_numpy(float)
        ways["estimate"] = scale.shown(values[:, 0])
        ends = np.sort(np.column_stack([scale.shown(values[:, 1]), scale.shown(values[:, 2])]), 1)
    else:
        ways["estimate"] = every.ways["multiple"]
        ends = every.ways[["multiple_low", "multiple_high"]].to_numpy(float)
    ways["low"], ways["high"] = ends[:, 0], ends[:, 1]
    order = np.argsort(ways["estimate"].to_numpy(float), kind="stable")
    return ChoicesData(
        title="Every defensible way to weigh it",
        subtitle=every.sentence,
        notes=_notes(every),
        axis=_axis(every),
        ways=ways.iloc[order].reset_index(drop=True),
        choices=tuple(
            Choice(column=dial.column, words=dial.words, options=dial.options)
            for dial in every.dials
        ),
        shipped=int(np.flatnonzero(order == every.shipped)[0]),
        level=weighing.level,
    )


def _axis(every: EveryChoice) -> EffectAxis:
    weighing, scale = every.weighing, every.weighing.scale
    both = sides_of(weighing)
    if not every.one_metric:
        return EffectAxis(
            title="difference, in smallest worthwhile effects",
            left_words=both.below,
            right_words=both.above,
            zone=(-1.0, 1.0),
            decimals=1,
        )
    zone = weighing.worthwhile
    left, right = axis_words(weighing)
    return EffectAxis(
        title=axis_title(weighing),
        left_words=left,
        right_words=right,
        kind=scale.kind,
        no_effect=scale.no_effect,
        zone=None if zone is None else tuple(sorted(float(scale.shown(z)) for z in (-zone, zone))),
        decimals=scale.decimals,
    )


def _notes(every: EveryChoice) -> tuple[str, ...]:
    found = ["Invented data, for demonstration."] if every.weighing.invented else []
    found += [f"{note[:1].upper()}{note[1:]}." for note in every.notes]
    return tuple(found)


def choices_table(every: EveryChoice, *, most: int | None = None) -> pd.DataFrame:
    """A row per way for who wants it: the options, estimate, interval and verdict."""
    columns = [dial.column for dial in every.dials]
    numbers = ["estimate", "low", "high", "multiple", "verdict", "studies", "shipped"]
    table = every.ways[[*columns, *numbers]]
    return table if most is None else table.iloc[:most]
