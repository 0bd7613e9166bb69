"""Pictures for lay readers: an explanation's numbers in the shape the charts take."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pandas as pd
from scipy.special import ndtr

from steelyard.explaining.explanation import Explanation
from steelyard.explaining.names import claim_of
from steelyard.explaining.wording.catalogue import Catalogue
from steelyard.explaining.wording.claim import Claim, capital, span_words, zone_words
from steelyard.explaining.wording.rounding import out_of_100, rounded_to_support
from steelyard.pooling.forest_data import display_rows
from steelyard.pooling.pictures import HillsData, HundredData, PlainForestData, StripData

FAR_SDS = 3.5
POINTS = 201


def strip_data(explanation: Explanation, words: Catalogue) -> StripData | None:
    """The three bands in the unit; None without a size in a unit, and for counts."""
    sizes = explanation.sizes
    if sizes is None or sizes.average is None or sizes.without is not None:
        return None
    turn = -1.0 if sizes.kind == "lower" else 1.0
    average = sizes.average
    bands = [("average", average.low, average.high)]
    if sizes.next_group is not None:
        bands.append(("next", sizes.next_group.low, sizes.next_group.high))
    if sizes.one_person is not None:
        bands.append(("one", sizes.one_person.low, sizes.one_person.high))
    rows = []
    for name, low, high in bands:
        ends = sorted((turn * low, turn * high))
        rows.append(
            {
                "words": words.say(f"page.band_{name}"),
                "estimate": turn * average.value if name == "average" else float("nan"),
                "low": ends[0],
                "high": ends[1],
                "numbers": span_words(low, high, unit=sizes.unit, kind=sizes.kind, words=words),
            }
        )
    weeks = _weeks(explanation, words)
    rounding = rounded_to_support(average.value, low=average.low, high=average.high)
    return StripData(
        title=words.say("page.strip_title"),
        subtitle=words.say("page.strip_subtitle", unit=sizes.unit, weeks=weeks),
        notes=_notes(explanation),
        ranges=pd.DataFrame(rows),
        unit=sizes.unit,
        worthwhile=float("nan") if sizes.zone is None else turn * sizes.zone,
        worthwhile_words=words.say("page.worthwhile"),
        from_here_words=words.say("page.strip_from_here"),
        axis_title=words.say("page.strip_axis", unit=sizes.unit),
        zero_words=words.say("page.strip_zero"),
        left_words=words.say("page.strip_left"),
        right_words=words.say("page.strip_right"),
        decimals=rounding.decimals,
    )


def hundred_data(explanation: Explanation, words: Catalogue) -> HundredData | None:
    """Random pairs of people, or people counted; None where the answer does not settle a side."""
    sizes = explanation.sizes
    if sizes is None or sizes.average is None:
        return None
    claim = claim_of(explanation.evidence[0], sizes, words)
    if not claim.direction_shown or claim.form == "unknown":
        return None
    if claim.counts:
        return _counted(explanation, claim, words)
    sd = explanation.evidence[0].question.client.reference_sd
    if sizes.r is None or sizes.zone is None or sd is None or sizes.chance is None:
        return None
    # The gains of two random people differ with √2 times the SD of gains.
    spread = float(sd) * sqrt(2 * (1 - sizes.r.value)) * sqrt(2)
    ahead = 100 * float(ndtr((sizes.average.value - sizes.zone) / spread))
    behind = 100 * float(ndtr((-sizes.zone - sizes.average.value) / spread))
    better, worse = round(ahead), round(behind)
    zone = zone_words(claim, words)
    other = claim.b or words.say("phrase.no_more_dose", dose=claim.a)
    return HundredData(
        title=words.say("page.hundred_title"),
        subtitle=words.say(
            "page.hundred_subtitle", a=claim.a, count=out_of_100(sizes.chance.value)
        ),
        notes=_notes(explanation),
        better=better,
        same=100 - better - worse,
        worse=worse,
        better_words=words.say("page.hundred_better", a=capital(claim.a), zone=zone),
        same_words=words.say("page.hundred_same", zone=zone),
        worse_words=words.say("page.hundred_worse", b=capital(other), zone=zone),
        of_100_words=_in_place(words, "page.hundred_pairs", "count", "words"),
        pairs=True,
    )


def hills_data(explanation: Explanation, words: Catalogue) -> HillsData | None:
    """Two groups at the end, and where the client starts; None without a start and an SD."""
    sizes = explanation.sizes
    sd = explanation.evidence[0].question.client.reference_sd
    if sizes is None or sizes.average is None or sizes.baseline is None or sd is None:
        return None
    if sizes.without is not None or sizes.overlap is None:
        return None
    claim = claim_of(explanation.evidence[0], sizes, words)
    spread, turn = float(sd), -1.0 if sizes.kind == "lower" else 1.0
    usual_gain = 0.0 if sizes.usual is None else sizes.usual.in_sd * spread
    typical = float(explanation.evidence[0].question.client.baseline or sizes.baseline)
    usual = typical + turn * usual_gain
    changed = usual + turn * sizes.average.value
    values = np.linspace(
        min(usual, changed) - FAR_SDS * spread, max(usual, changed) + FAR_SDS * spread, POINTS
    )
    curves = pd.DataFrame(
        {
            "value": values,
            "usual": np.exp(-(((values - usual) / spread) ** 2) / 2),
            "changed": np.exp(-(((values - changed) / spread) ** 2) / 2),
        }
    )
    other = claim.b or words.say("phrase.no_more_dose", dose=claim.a)
    return HillsData(
        title=words.say("page.hills_title", weeks=_weeks(explanation, words)),
        subtitle=words.say(
            "page.hills_subtitle", overlap=words.number(sizes.overlap.value, decimals=0)
        ),
        notes=_notes(explanation),
        curves=curves,
        axis_title=words.say(
            "page.hills_axis",
            outcome=claim.outcome_short,
            weeks=_weeks(explanation, words),
            unit=sizes.unit,
        ),
        usual_words=other,
        changed_words=claim.a,
        client=sizes.baseline if sizes.own_baseline else float("nan"),
        client_words=words.say("page.hills_client"),
        decimals=0 if spread >= 10 else 1,
    )


def plain_forest_data(explanation: Explanation, words: Catalogue) -> PlainForestData | None:
    """Where each study stands; None without a smallest worthwhile difference."""
    weighing = explanation.evidence[0].weighing
    if weighing is None or weighing.worthwhile is None:
        return None
    scale = weighing.scale
    rows = display_rows(weighing.studies[weighing.studies["used"]], scale)
    people = weighing.studies.loc[weighing.studies["used"], "people"].to_numpy()
    studies = pd.DataFrame(
        {
            "label": rows["label"],
            "estimate": rows["estimate"],
            "low": rows["low_95"],
            "high": rows["high_95"],
            "people": people,
            "flags": "",
        }
    )
    pooled = weighing.pooled

    def ends(low: float, high: float) -> tuple[float, float]:
        one, other = sorted((float(scale.shown(low)), float(scale.shown(high))))
        return one, other

    low, high = ends(pooled.low, pooled.high)
    sides = [words.say(f"page.studies_{side}") for side in ("worse", "same", "better")]
    if scale.turned:
        sides.reverse()
    return PlainForestData(
        title=words.say("page.studies_title"),
        subtitle=words.say("page.studies_subtitle"),
        notes=_notes(explanation),
        studies=studies.sort_values("estimate", ascending=False, kind="stable").reset_index(
            drop=True
        ),
        zone=ends(-weighing.worthwhile, weighing.worthwhile),
        estimate=float(scale.shown(pooled.estimate)),
        low=low,
        high=high,
        together_words=explanation.sentence,
        worse_words=sides[0],
        same_words=sides[1],
        better_words=sides[2],
        people_words=_in_place(words, "page.studies_people", "count"),
        together_title=words.say("page.studies_together"),
        dot_words=words.say("page.studies_dot"),
        poised_words=words.say("page.studies_poised"),
        cut_words=words.say("page.studies_cut"),
        kind=scale.kind,
        no_effect=scale.no_effect,
    )


def _counted(explanation: Explanation, claim: Claim, words: Catalogue) -> HundredData:
    spared = max(round(claim.without) - round(claim.value), 0)
    still = round(claim.value)
    return HundredData(
        title=words.say("page.hundred_counts_title"),
        subtitle=words.say("page.hundred_counts_subtitle", a=claim.a),
        notes=_notes(explanation),
        better=spared,
        same=100 - spared - still,
        worse=still,
        better_words=words.say("page.hundred_counts_better"),
        same_words=words.say("page.hundred_counts_same"),
        worse_words=words.say("page.hundred_counts_worse"),
        of_100_words=_in_place(words, "page.hundred_people", "count", "words"),
    )


def _in_place(words: Catalogue, key: str, *names: str) -> str:
    """A message whose names the drawing fills in, row by row."""
    return words.say(key, **{name: f"{{{name}}}" for name in names})


def _weeks(explanation: Explanation, words: Catalogue) -> str:
    middle = explanation.evidence[0].weeks[1]
    return words.say("phrase.weeks_one", weeks=words.number(middle, decimals=0))


def _notes(explanation: Explanation) -> tuple[str, ...]:
    return (explanation.invented_line,) if explanation.invented else ()
