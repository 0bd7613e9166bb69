"""What the step of dose that is advised brings, where studies asked for a step of their own."""

from __future__ import annotations

from steelyard.explaining.client_sizes import ClientSizes, way_to_unit
from steelyard.explaining.evidence import Evidence
from steelyard.explaining.ledger import STUDIES, Ledger
from steelyard.explaining.wording.claim import Claim, two_figures, verb
from steelyard.judging.dose import tested_in_all
from steelyard.records.recommendation import Recommendation


def advised_step(
    record: Recommendation,
    evidence: Evidence,
    sizes: ClientSizes,
    claim: Claim,
    *,
    ledger: Ledger,
) -> list[str]:
    """The size of going from the least to the most that is advised, along a straight line.

    Parameters
    ----------
    record : Recommendation
    evidence : Evidence
    sizes : ClientSizes
    claim : Claim
    ledger : Ledger

    Returns
    -------
    list of str
        Empty without such a step, without a size in a unit, or where nothing may be claimed. No
        size for a step that leaves what the studies tested. A second sentence where the interval
        does not lie above what is worth having, which shrinks or grows with the step.
    """
    question, words = evidence.question, ledger.words
    advised = None if question.dose is None else getattr(record.dose, question.dose, None)
    to_unit = None if sizes.average is None or claim.counts else way_to_unit(evidence, sizes)
    if advised is None or to_unit is None or claim.leans_to_b:
        return []
    if claim.form not in ("gives", "leans"):
        return []
    least, most = (float(end) for end in advised)
    times = (most - least) / float(question.dose_step or 1)
    if times == 0.0:
        return []
    place = f"recommendations/{record.id}.toml dose.{question.dose}"
    step = {
        "low": ledger.given("step.from", least, rests_on=place),
        "high": ledger.given("step.to", most, rests_on=place),
        "dose": words.say(f"dose_name.{question.dose}"),
    }
    tested = tested_in_all(question.dose, weighing=evidence.weighing, studies=evidence.studies)
    if tested is not None and not tested[0] <= least <= most <= tested[1]:
        ends = {
            end: ledger.given(f"step.tested.{end}", value, rests_on=STUDIES)
            for end, value in zip(("from", "to"), tested, strict=True)
        }
        return [words.say("paragraph.step_beyond", **step, **ends)]
    if times == 1.0:
        return []
    pooled = evidence.weighing.pooled
    value, low, high = (
        abs(to_unit(times * end)) for end in (pooled.estimate, pooled.low, pooled.high)
    )
    low, high = sorted((low, high))
    texts = ledger.three("step", value, low, high, unit=claim.unit)
    said = words.say(
        "paragraph.step",
        **step,
        will=verb(claim, words),
        size=words.say("phrase.amount_with_range", unit=claim.unit, **texts),
    )
    worthwhile = evidence.weighing.worthwhile
    zone = None if worthwhile is None else abs(to_unit(times * worthwhile))
    if zone is None or low >= zone:
        return [said]
    text = two_figures(zone, words)
    ledger.wrote(
        "step.worthwhile",
        text,
        zone,
        unit=claim.unit,
        rests_on=f"questions/{question.id}.toml smallest_worthwhile",
    )
    shown = words.say("phrase.amount", value=text, unit=claim.unit)
    key = "step_less" if high < zone else "step_open"
    return [said, words.say(f"paragraph.{key}", zone=shown)]
