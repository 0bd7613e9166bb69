"""What one study does and does not show, in sentences; every number comes from the reading."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtri

from steelyard.effects.design_notes import design_notes
from steelyard.pooling.directions import chance_any_significant, chance_same_direction
from steelyard.pooling.gain_words import gain_sentence
from steelyard.pooling.study_reading import (
    NONE_SHOWN,
    NOT_SETTLED,
    POWER,
    SHOWN,
    StudyReading,
)
from steelyard.pooling.weighing import plain
from steelyard.show import interval as shown_interval
from steelyard.show import number

DRAWS = 100_000


def findings(reading: StudyReading) -> tuple[str, ...]:
    """Sentences in the order in which a careful reader would want them."""
    found = [_capital(f"{note}.") for note in design_notes(reading.study)]
    found += _suspect(reading)
    found += _settled(reading)
    found += _agreement(reading)
    found += _detectable(reading)
    found += _within_groups(reading)
    found += [told] if (told := gain_sentence(reading.gain_words, reading.study)) else []
    found += _responses(reading)
    found += _surrogates(reading)
    found.append("One study is one witness: its outcomes come from the same people.")
    if reading.study.invented:
        found.append("Invented data, for demonstration.")
    return tuple(found)


def text(reading: StudyReading, value: float) -> str:
    """A machine value in display units."""
    scale = reading.scale
    return number(float(scale.shown(value)), decimals=scale.decimals, sign=scale.sign) + scale.unit


def span(reading: StudyReading, low: float, high: float) -> str:
    """An interval in display units."""
    scale = reading.scale
    ends = sorted(float(scale.shown(end)) for end in (low, high))
    return shown_interval(*ends, decimals=scale.decimals, sign=scale.sign) + scale.unit


def _suspect(reading: StudyReading) -> list[str]:
    used = set(reading.effects["outcome"])
    out_of = _listed(list(reading.held_out_of)) if reading.held_out_of else ""
    held = f"; it is left out of the pool of {out_of}" if out_of else ""
    return [
        f"The numbers of {reading.study.outcome(outcome).name} do not hang together ({why}): what "
        f"is said of it here holds only if they are right{held}."
        for outcome, why in reading.suspects.items()
        if outcome in used
    ]


def _settled(reading: StudyReading) -> list[str]:
    if reading.worthwhile is None:
        return ["No smallest worthwhile effect is set for this study, so nothing is judged by it."]
    rows = reading.effects[~reading.effects["surrogate"]]
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
    zone = _size(reading, reading.worthwhile)
    held = f"held against the smallest worthwhile one ({zone})"
    sentences = [f"Of {len(rows)} effects, {held}, {_listed(told)}."]
    if len(rows) == 1:
        sentences = [f"The effect, {held}, {told[0].removeprefix('it ')}."]
    quiet = int((~rows["leaves_out_zero"] & (rows["verdict"] != NONE_SHOWN)).sum())
    if quiet:
        sentences.append(
            f"{_capital(_how_many(quiet, len(rows)))} {'has' if quiet == 1 else 'have'} an "
            "interval that takes in no difference: that does not prove there is none, for a "
            "meaningful one is not ruled out."
        )
    return sentences


def _how_many(amount: int, of: int) -> str:
    if amount == of:
        return "it" if of == 1 else "both" if of == 2 else f"all {of}"
    return f"{amount:,}" if amount else "none"


def _size(reading: StudyReading, value: float) -> str:
    scale = reading.scale
    shown = float(scale.shown(value))
    shown = abs(shown) if scale.kind == "linear" else shown
    return number(shown, decimals=scale.decimals) + scale.unit


def _agreement(reading: StudyReading) -> list[str]:
    """One of nine significant, and all nine the same direction, each put in its place."""
    rows = reading.effects[~reading.effects["surrogate"]]
    k = len(rows)
    if k < 2:
        return []
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
        who = "All" if same == k else f"{same} of"
        found.append(
            f"{who} {k} results point the same way. With no effect at all, {k} results of the same "
            f"people would agree as much {_in_100(agree)} ({allowed})."
        )
    if significant:
        any_one = chance_any_significant(k, **asked).chance
        found.append(
            f"{significant} of {k} {'has' if significant == 1 else 'have'} an interval that leaves "
            f"out no difference. With no effect at all, at least one of {k} would have "
            f"{_in_100(any_one)}."
        )
    return found


def _in_100(chance: float) -> str:
    times = 100 * chance
    if times < 1:
        return "less than once in 100 times"
    return f"about {number(times, decimals=0)} times in 100"


def _detectable(reading: StudyReading) -> list[str]:
    rows = reading.effects[~reading.effects["surrogate"]]
    if rows.empty:
        return []
    low, high = rows["detectable"].min(), rows["detectable"].max()
    one, other = _size(reading, low), _size(reading, high)
    sizes = one if one == other else f"{one} to {other}"
    sentence = (
        f"With its people the study would have told a true difference of {sizes} from none "
        f"{number(100 * POWER, decimals=0)} times in 100"
    )
    if reading.worthwhile is not None and low > reading.worthwhile:
        ends = [number(each / reading.worthwhile, decimals=1) for each in (low, high)]
        times = ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"
        sentence += f", which is {times} times the smallest worthwhile effect: "
        sentence += _too_small(reading, rows)
    return [f"{sentence}."]


def _too_small(reading: StudyReading, rows) -> str:
    """What so small a study is worth, beside what it happened to settle."""
    settled = int((rows["verdict"] != NOT_SETTLED).sum())
    if not settled:
        return "it was too small to settle the question by itself"
    text = "a study of its size cannot be counted on to settle the question"
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


def _within_groups(reading: StudyReading) -> list[str]:
    changes = reading.changes
    if changes.empty:
        return []
    z = float(ndtri(0.975))
    found = []
    effects = reading.effects.set_index(["outcome", "intervention", "comparator"])
    for (outcome, one, other), row in effects.iterrows():
        mine = (changes["outcome"] == outcome) & (changes["comparison"] == row["comparison"])
        arms = changes[mine].set_index("arm")
        if one not in arms.index or other not in arms.index:
            continue
        sides = []
        gained = []
        for arm in (one, other):
            change = float(arms.loc[arm, "change"])
            error = float(arms.loc[arm, "variance"]) ** 0.5
            gained.append(change - z * error > 0)
            sides.append(f"{text(reading, change)} with {reading.study.arm(arm).name}")
        name = reading.study.outcome(outcome).name
        # A test, or one adjusted for the start, holds the groups together in another way.
        whole = row["contrast"] == "change"
        between = "the effect is the difference between them," if whole else "the effect is"
        sentence = (
            f"Inside the groups, {name} got better by: {', '.join(sides)}. These are the groups' "
            f"own changes; {between} "
            f"{text(reading, row['effect'])} ({span(reading, row['low'], row['high'])})."
        )
        if gained[0] != gained[1] and not row["leaves_out_zero"]:
            sentence += (
                " One group's own change is told from none and the other's is not; that shows no "
                "difference between the groups."
            )
        found.append(sentence)
    return found


def _responses(reading: StudyReading) -> list[str]:
    found = []
    for (outcome, _, _), response in reading.responses.items():
        record = reading.study.outcome(outcome)
        unit = f" {record.unit}" if record.unit else ""
        ends = shown_interval(response.low, response.high, decimals=1)
        found.append(
            f"Who responds, {record.name}: SD of individual responses "
            f"{number(response.sd, decimals=1, sign=True)}{unit} ({ends}{unit}); "
            f"{response.sentence}."
        )
    return found


def _surrogates(reading: StudyReading) -> list[str]:
    rows = reading.effects[reading.effects["surrogate"]]
    known = {construct.id: construct for construct in reading.vocabulary.constructs}
    found = []
    for construct in dict.fromkeys(rows["construct"]):
        label = reading.vocabulary.label("construct", construct)
        instead = getattr(known.get(construct), "surrogate_for", None)
        stands = f" for {reading.vocabulary.label('construct', instead)}" if instead else ""
        found.append(
            f"{_capital(label)} is an indirect outcome: it stands in{stands}, and the "
            "counts of outcomes above leave it out."
        )
    return found


def reading_rows(reading: StudyReading) -> list[tuple[str, str]]:
    """Rows for the terminal and the notebook."""
    study, rows = reading.study, []
    several = reading.effects["comparison"].nunique() > 1
    for row in reading.effects.itertuples():
        name = study.outcome(row.outcome).name
        if several:
            arms = [study.arm(arm).name for arm in (row.intervention, row.comparator)]
            name = f"{name}, {arms[0]} v {arms[1]}"
        told = f"{text(reading, row.effect)} ({span(reading, row.low, row.high)})"
        parts = [told, row.verdict, row.flags]
        rows.append((f"{name}, week {row.week:g}", "; ".join(part for part in parts if part)))
    for row in reading.composites.itertuples():
        if row.outcomes < 2:
            continue
        label = reading.vocabulary.label("construct", row.construct)
        told = f"{text(reading, row.effect)} ({span(reading, row.low, row.high)})"
        verdict = f"; {row.verdict}" if row.verdict else ""
        rows.append(
            (
                f"{label}, {row.outcomes} together",
                f"{told}{verdict}; assumed r {reading.r_between_outcomes:.2f} between outcomes",
            )
        )
    rows += [("finding", sentence) for sentence in reading.findings]
    rows += [("left out", reason) for reason in reading.left_out]
    return rows


def reading_json(reading: StudyReading) -> dict:
    """The machine's view: ratios on the log scale, positive favours the intervention."""
    records = reading.effects.to_dict("records")
    keys = ("outcome", "comparison", "week")
    return {
        "study": reading.study.id,
        "title": reading.study.source.title,
        "metric": reading.metric,
        "smallest_worthwhile": plain(reading.worthwhile),
        "direction": "positive favours the intervention",
        "effects": [{str(k): plain(v) for k, v in row.items()} for row in records],
        "composite": [
            {str(k): plain(v) for k, v in row.items()}
            for row in reading.composites.to_dict("records")
        ],
        "r_between_outcomes": reading.r_between_outcomes,
        "detectable": [
            {
                **{key: plain(row[key]) for key in keys},
                "power": POWER,
                "at": plain(row["detectable"]),
            }
            for row in records
        ],
        "verdicts": [
            {**{key: plain(row[key]) for key in keys}, "verdict": row["verdict"] or None}
            for row in records
        ],
        "gains_inside_groups": [each.as_json() for each in reading.gain_words],
        "findings": list(reading.findings),
        "left_out": list(reading.left_out),
        "invented": reading.study.invented,
    }


def _listed(parts: list[str]) -> str:
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


def _capital(text_: str) -> str:
    return text_[:1].upper() + text_[1:]
