"""What the step of dose that is advised brings, where studies asked for a step of their own."""

from __future__ import annotations

from steelyard.explaining.client_sizes import ClientSizes, way_to_unit
from steelyard.explaining.evidence import Evidence
from steelyard.explaining.ledger import Ledger
from steelyard.explaining.wording.claim import Claim, verb, zone_words
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
        Empty without such a step, without a size in a unit, or where nothing may be claimed; a
        second sentence where it is expected to bring less than what is worth having.
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
    if times in (0.0, 1.0):
        return []
    pooled = evidence.weighing.pooled
    value, low, high = (
        abs(to_unit(times * end)) for end in (pooled.estimate, pooled.low, pooled.high)
    )
    texts = ledger.three("step", value, *sorted((low, high)), unit=claim.unit)
    place = f"recommendations/{record.id}.toml dose.{question.dose}"
    said = words.say(
        "paragraph.step",
        low=ledger.given("step.from", least, rests_on=place),
        high=ledger.given("step.to", most, rests_on=place),
        dose=words.say(f"dose_name.{question.dose}"),
        will=verb(claim, words),
        size=words.say("phrase.amount_with_range", unit=claim.unit, **texts),
    )
    if claim.zone is None or value >= claim.zone:
        return [said]
    return [said, words.say("paragraph.step_less", zone=zone_words(claim, words), a=claim.a)]
