"""What one study does and does not show, in sentences; every number comes from the reading."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from steelyard.effects.design_notes import design_notes
from steelyard.effects.every_effect import COUNTS
from steelyard.pooling.detectable_counts import usual_risk
from steelyard.pooling.directions import chance_any_significant, chance_same_direction
from steelyard.pooling.gain_words import gain_sentence
from steelyard.pooling.reading_groups import inside_groups, own_changes, responses
from steelyard.pooling.scale_group import ScaleGroup
from steelyard.pooling.study_reading import (
    NONE_SHOWN,
    NOT_SETTLED,
    POWER,
    SHOWN,
    StudyReading,
)
from steelyard.show import capital, count, listed, number

DRAWS = 100_000
TIMES_IN_100 = f"{number(100 * POWER, decimals=0)} times in 100"
NO_EFFECT = "No effect can be formed from what the paper prints."


@dataclass(frozen=True, slots=True)
class Findings:
    """Sentences in the order in which a careful reader would want them.

    Attributes
    ----------
    first, last : tuple of str
        About the study as a whole.
    inside, responses : tuple of str
        One for each outcome: the groups' own changes, and who responds.
    """

    first: tuple[str, ...]
    inside: tuple[str, ...]
    responses: tuple[str, ...]
    last: tuple[str, ...]

    @property
    def all(self) -> tuple[str, ...]:
        return (*self.first, *self.inside, *self.responses, *self.last)


def findings(reading: StudyReading) -> Findings:
    """What one study does and does not show."""
    found = [capital(f"{note}.") for note in design_notes(reading.study)]
    found += _suspect(reading)
    inside: list[str] = []
    if reading.effects.empty:
        found += own_changes(reading) or [NO_EFFECT]
    else:
        found += _settled(reading)
        found += _agreement(reading)
        found += _detectable(reading)
        inside += inside_groups(reading)
    inside += [told] if (told := gain_sentence(reading.gain_words, reading.study)) else []
    last = [*_surrogates(reading), _all_of_it(reading)]
    last.append("One study is one witness: its outcomes come from the same people.")
    if reading.study.invented:
        last.append("Invented data, for demonstration.")
    return Findings(tuple(found), tuple(inside), tuple(responses(reading)), tuple(last))


def _suspect(reading: StudyReading) -> list[str]:
    used = {*reading.effects["outcome"], *reading.own_changes["outcome"]}
    out_of = listed(list(reading.held_out_of)) if reading.held_out_of else ""
    held = f"; it is left out of the pool of {out_of}" if out_of else ""
    return [
        f"The numbers of {reading.study.outcome(outcome).name} do not hang together ({why}): what "
        f"is said of it here holds only if they are right{held}."
        for outcome, why in reading.suspects.items()
        if outcome in used
    ]


def _settled(reading: StudyReading) -> list[str]:
    counted = reading.effects[reading.effects["counted"]]
    rows = counted[counted["verdict"] != ""]
    if (reading.effects["verdict"] == "").all():
        return ["No smallest worthwhile effect is set for this study, so nothing is judged by it."]
    if rows.empty:
        return []
    verdicts = list(rows["verdict"])
    told = [
        f"{_how_many(verdicts.count(word), len(rows))} {one if verdicts.count(word) == 1 else many}"
        for word, one, many in (
            (SHOWN, "shows a meaningful difference", "show a meaningful difference"),
            (NONE_SHOWN, "shows no meaningful difference", "show no meaningful difference"),
            (NOT_SETTLED, "leaves it open", "leave it open"),
        )
        if word in verdicts
    ]
    scales = [reading.groups[place] for place in dict.fromkeys(rows["scale"])]
    zones = "; ".join(group.size(group.worthwhile) for group in scales)
    one = "the smallest worthwhile one"
    held = f"held against {one} ({zones})"
    if len(scales) > 1:
        held = f"each held against {one} on its scale ({zones})"
    sentences = [f"Of {len(rows)} effects, {held}, {listed(told)}."]
    if len(rows) == 1:
        (only,) = rows.itertuples()
        where = f" on {reading.study.outcome(only.outcome).name}" if len(counted) > 1 else ""
        where += f" at week {only.week:g}" if (~reading.effects["last"]).any() else ""
        sentences = [f"The effect{where}, {held}, {told[0].removeprefix('it ')}."]
    quiet = int((~rows["leaves_out_zero"] & (rows["verdict"] != NONE_SHOWN)).sum())
    if quiet:
        sentences.append(
            f"{capital(_how_many(quiet, len(rows)))} {'has' if quiet == 1 else 'have'} an "
            "interval that takes in no difference: that does not prove there is none, for a "
            "meaningful one is not ruled out."
        )
    if len(unjudged := counted[counted["verdict"] == ""]):
        judged = "is" if len(_ids(unjudged)) == 1 else "are"
        sentences.append(
            f"No smallest worthwhile effect is set for {_names(reading, unjudged)}, which {judged} "
            "not judged."
        )
    return sentences


def _how_many(amount: int, of: int) -> str:
    if amount == of:
        return "it" if of == 1 else "both" if of == 2 else f"all {of}"
    return f"{amount:,}" if amount else "none"


def _ids(rows: pd.DataFrame) -> list[str]:
    return list(dict.fromkeys(rows["outcome"]))


def _agreement(reading: StudyReading) -> list[str]:
    """One of nine significant, and all nine the same direction, each put in its place."""
    rows = reading.effects[reading.effects["counted"]]
    k = len(rows)
    if k < 2:
        return [_what_counts(reading)] if k and (~reading.effects["last"]).any() else []
    places = rows.index.to_numpy()
    correlation = reading.correlation[np.ix_(places, places)]
    same = max(int((rows["effect"] > 0).sum()), int((rows["effect"] < 0).sum()))
    significant = int(rows["leaves_out_zero"].sum())
    asked = {"correlation": correlation, "method": "simulation", "draws": DRAWS}
    found = []
    allowed = f"correlation {reading.r_between_outcomes:.2f} between outcomes assumed"
    if len(rows[["outcome", "week"]].drop_duplicates()) == 1:
        allowed = "one outcome: their shared arms allowed for"
    if same > k / 2:
        agree = chance_same_direction(k, at_least=same, **asked).chance
        who = f"{same} of {k}" if same < k else "Both" if k == 2 else f"All {k}"
        found.append(
            f"{who} results point the same way. With no effect at all, {k} results of the same "
            f"people would agree as much {_in_100(agree)} ({allowed})."
        )
    if significant:
        any_one = chance_any_significant(k, **asked).chance
        found.append(
            f"{significant} of {k} {'has' if significant == 1 else 'have'} an interval that leaves "
            f"out no difference. With no effect at all, at least one of {k} would have "
            f"{_in_100(any_one)}."
        )
    return [*found, _what_counts(reading)]


def _what_counts(reading: StudyReading) -> str:
    """What entered the counts above, and what did not."""
    effects = reading.effects
    rows = effects[effects["counted"]]
    told = "each outcome of a comparison once, at its last week"
    if rows["scale"].nunique() > 1:
        told += ", on whatever scale it is told, for a direction has none"
    fewer = [reading.study.outcome(each).name for each in _ids(rows[rows["better"] == "lower"])]
    if fewer:
        told += f"; for {listed(fewer)}, less is better"
    earlier = int((~effects["last"]).sum())
    stand_ins = int((effects["last"] & effects["surrogate"]).sum())
    others = []
    if earlier:
        others.append(count(earlier, "result of an earlier week", "results of earlier weeks"))
    if stand_ins:
        others.append(count(stand_ins, "stand-in"))
    not_counted = f"; not counted: {listed(others)}" if others else ""
    return f"Counted above: {told}{not_counted}."


def _in_100(chance: float) -> str:
    times = 100 * chance
    if times < 1:
        return "less than once in 100 times"
    return f"about {number(times, decimals=0)} times in 100"


def _detectable(reading: StudyReading) -> list[str]:
    counted = reading.effects[reading.effects["counted"]]
    parts = [(reading.groups[place], part) for place, part in counted.groupby("scale")]
    alone = len(parts) == 1
    found = []
    for group, part in parts:
        if group.metric in COUNTS:
            found += _risks_told_from_none(reading, group, part, alone=alone)
        else:
            found.append(_told_from_none(reading, group, part, alone=alone))
    if counted["detectable"].isna().any():
        names = _names(reading, counted[counted["detectable"].isna()])
        found.append(
            f"What the study could have told from none is not worked out for {names}: the record "
            "does not hold the people behind it."
        )
    return found


def _names(reading: StudyReading, rows: pd.DataFrame) -> str:
    return listed([reading.study.outcome(each).name for each in _ids(rows)])


def _told_from_none(
    reading: StudyReading, group: ScaleGroup, rows: pd.DataFrame, *, alone: bool
) -> str:
    """What the study could have told from none on one scale."""
    low, high = rows["detectable"].min(), rows["detectable"].max()
    about = "" if alone else f", in {_names(reading, rows)},"
    sentence = (
        f"With its people the study would have told{about} a true difference of "
        f"{group.sizes(low, high)} from none {TIMES_IN_100}"
    )
    worthwhile = group.worthwhile
    if worthwhile is not None and low > worthwhile:
        ends = [number(each / worthwhile, decimals=1) for each in (low, high)]
        times = ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"
        sentence += f", which is {times} times the smallest worthwhile effect: "
        sentence += _too_small(reading, rows, alone=alone)
    return f"{sentence}."


def _risks_told_from_none(
    reading: StudyReading, group: ScaleGroup, rows: pd.DataFrame, *, alone: bool
) -> list[str]:
    """The same of counts: what risk it could have told from that of its comparators."""
    found = []
    known = rows[rows["detectable"].notna()]
    for row in known.itertuples():
        arm = reading.study.arm(row.intervention).name
        name = reading.study.outcome(row.outcome).name + (f" with {arm}" if len(known) > 1 else "")
        turn, end = ("a fall", "0") if row.better == "lower" else ("a rise", "everybody")
        told = f"would not have told even {turn} to {end}"
        if np.isfinite(row.detectable):
            told = f"would have told {turn} to {group.size(row.detectable)}"
        sentence = (
            f"In {name}, at a usual risk of {number(100 * usual_risk(row), decimals=0)} in 100, "
            f"the study {told} from no change {TIMES_IN_100}"
        )
        if group.worthwhile is not None and row.detectable > group.worthwhile:
            sentence += f": {_too_small(reading, known.loc[[row.Index]], alone=alone)}"
        found.append(f"{sentence}.")
    return found


def _too_small(reading: StudyReading, rows: pd.DataFrame, *, alone: bool) -> str:
    """What so small a study is worth, beside what it happened to settle."""
    what = "the question" if alone else "that"
    settled = int(rows["verdict"].isin([SHOWN, NONE_SHOWN]).sum())
    if not settled:
        return f"it was too small to settle {what} by itself"
    text = f"a study of its size cannot be counted on to settle {what}"
    if reading.study.retracted or set(rows["outcome"]) <= set(reading.suspects):
        return text
    if len(rows) == 1:
        text += ", though this one does"
    else:
        does = "does" if settled == 1 else "do"
        text += f", though {_how_many(settled, len(rows))} of its effects {does}"
    if (rows["verdict"] == SHOWN).any():
        text += "; what so small a study shows tends to come out too large"
    return text


def _surrogates(reading: StudyReading) -> list[str]:
    rows = reading.effects[reading.effects["surrogate"]]
    known = {construct.id: construct for construct in reading.vocabulary.constructs}
    found = []
    for construct in dict.fromkeys(rows["construct"]):
        label = reading.vocabulary.label("construct", construct)
        instead = getattr(known.get(construct), "surrogate_for", None)
        stands = f" for {reading.vocabulary.label('construct', instead)}" if instead else ""
        found.append(
            f"{capital(label)} is an indirect outcome: it stands in{stands}, and the "
            "counts of outcomes above leave it out."
        )
    return found


def _all_of_it(reading: StudyReading) -> str:
    """Whether anything that the record holds is missing from what is shown."""
    missing = len(reading.not_formed)
    if not missing:
        return "All that the record holds after training began is shown: none left out."
    told = "One thing" if missing == 1 else f"{missing} things"
    verb = "is" if missing == 1 else "are"
    return (
        f"{told} that the record holds cannot be shown and {verb} named as left out, with the "
        "reason."
    )
