"""What the pooled studies leave open of a dose: what they did not test, and what came with it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from steelyard.explaining.evidence import Evidence
from steelyard.explaining.ledger import STUDIES, Ledger
from steelyard.explaining.names import names_of
from steelyard.explaining.wording.claim import capital
from steelyard.judging.dose import BEYOND, PARTLY, DoseCheck, had_between
from steelyard.pooling.lenses import equated_class
from steelyard.records.study import Study


def dose_gaps(checks: Iterable[DoseCheck], evidence: Evidence, *, ledger: Ledger) -> list[str]:
    """Parts of a dose that no study tested, or tested elsewhere or at one value only.

    Parameters
    ----------
    checks : iterable of DoseCheck
    evidence : Evidence
        With the weighing that the checks were made with.
    ledger : Ledger

    Returns
    -------
    list of str
        One text that names each such part with what was tested; then, of a part that the studies
        compared, the stretch between the two that no pooled comparison reaches into, and how
        many of the studies had a group there that was not pooled.
    """
    checks, words = tuple(checks), ledger.words
    parted = []
    for check in checks:
        if check.mark in (PARTLY, BEYOND):
            key = "dose_only" if check.mark == PARTLY else "dose_beyond"
            tested = _amount(check, check.tested, ledger)
            parted.append(words.say(f"unknown.{key}", Part=_part(check, ledger), tested=tested))
    found = [" ".join([words.say("unknown.dose"), *parted])] if parted else []
    for check in checks:
        if check.sides is None:
            continue
        (_, low), (high, _) = sorted(check.sides)
        if low < high and check.recommended[0] <= low and high <= check.recommended[1]:
            ends = {
                "low": _amount(check, (low, low), ledger, bare=True),
                "high": _amount(check, (high, high), ledger),
            }
            found += _between(check, (low, high), ends, evidence=evidence, ledger=ledger)
    return found


def _between(
    check: DoseCheck,
    stretch: tuple[float, float],
    ends: dict[str, str],
    *,
    evidence: Evidence,
    ledger: Ledger,
) -> list[str]:
    pooled, beside = had_between(
        check.part, stretch, weighing=evidence.weighing, studies=evidence.studies
    )
    if pooled:
        return []
    words = ledger.words
    said = words.say("unknown.dose_between", Part=_part(check, ledger), **ends)
    if not beside:
        return [said]
    counted = {
        "number": ledger.whole(f"tested.{check.part}.beside", len(beside)),
        "studies": ledger.whole("studies", evidence.weighing.k_studies),
    }
    return [said, words.say("unknown.dose_beside", **counted)]


def unequal_sets(evidence: Evidence, *, ledger: Ledger) -> list[str]:
    """That what was compared came with another number of sets, and how often it did not.

    Parameters
    ----------
    evidence : Evidence
        With a weighing. A question of dose, and one whose studies held the sets equal, has
        nothing to tell.
    ledger : Ledger

    Returns
    -------
    list of str
        The commonest two numbers, then how many studies held them equal, by their doses or,
        without these, by what they say was held equal.
    """
    if evidence.question.dose is not None:
        return []
    pairs = _pairs_of_sets(evidence)
    unequal = {study: [p for p in found if p[0] != p[1]] for study, found in pairs.items()}
    counted = Counter(pair for found in unequal.values() for pair in set(found))
    if not counted:
        return []
    words, names = ledger.words, names_of(evidence, ledger.words)
    many, few = max(counted, key=lambda pair: (counted[pair], pair))
    told = words.say(
        f"unknown.{'more_sets' if many > few else 'fewer_sets'}",
        many=ledger.given("sets.with", many, rests_on=STUDIES),
        few=ledger.given("sets.without", few, rests_on=STUDIES),
        a=names.a,
    )
    equal = sum(_held_equal(study, pairs.get(study.id, [])) for study in evidence.used_studies)
    number = ledger.whole("studies", evidence.weighing.k_studies)
    if not equal:
        return [told, words.say("unknown.equal_sets_none", studies=number)]
    held = ledger.whole("sets.equal", equal)
    return [told, words.say("unknown.equal_sets", equal=held, studies=number)]


def _pairs_of_sets(evidence: Evidence) -> dict[str, list[tuple[float, float]]]:
    """Weekly sets of both arms of every pooled effect, by study, where both are given."""
    used = evidence.weighing.effects[evidence.weighing.effects["used"]]
    found: dict[str, list[tuple[float, float]]] = {}
    for row in used.itertuples():
        study = evidence.studies[row.study]
        one, other = (
            study.arm(arm).dose.sets_per_week for arm in (row.intervention, row.comparator)
        )
        if one is not None and other is not None:
            found.setdefault(row.study, []).append((float(one), float(other)))
    return found


def _held_equal(study: Study, pairs: list[tuple[float, float]]) -> bool:
    if pairs:
        return all(one == other for one, other in pairs)
    return "sets" in equated_class(study).split()


def _part(check: DoseCheck, ledger: Ledger) -> str:
    part = ledger.words.say(f"dose_part.{check.part}")
    return capital(ledger.words.say("dose_amount.added", part=part) if check.added else part)


def _amount(
    check: DoseCheck, span: tuple[float, float], ledger: Ledger, *, bare: bool = False
) -> str:
    """One value or a range, with the unit unless `bare`."""
    low, high = (
        ledger.given(f"tested.{check.part}.{end}", value, rests_on=STUDIES)
        for end, value in zip(("low", "high"), span, strict=True)
    )
    n = low if low == high else ledger.words.say("phrase.number_span", low=low, high=high)
    return n if bare else ledger.words.say(f"dose_amount.{check.part}", n=n)
