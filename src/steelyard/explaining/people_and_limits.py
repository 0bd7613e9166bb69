"""For whom it was shown, what is not known, and what a client's profile adds."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from steelyard.explaining.client_sizes import ClientSizes
from steelyard.explaining.evidence import Evidence
from steelyard.explaining.harms import CountedHarm, harm_not_weighed, is_harm
from steelyard.explaining.ledger import FIXED, Ledger
from steelyard.explaining.names import names_of
from steelyard.explaining.profile import ClientProfile
from steelyard.explaining.unit_names import same_unit
from steelyard.explaining.wording.catalogue import Catalogue
from steelyard.records.recommendation import Recommendation
from steelyard.reporting.summary import summarise

STATUSES = ("untrained", "recreational", "trained", "highly-trained")
NEAR_YEARS = 10.0
FAR_SDS = 2.0
# Fractions that people picture, by the name of their words.
SHARES = {
    **{"little": 0.1, "quarter": 1 / 4, "third": 1 / 3, "half": 1 / 2},
    **{"two_thirds": 2 / 3, "three_quarters": 3 / 4, "most": 0.9},
}


def shown_for(evidence: Evidence, *, ledger: Ledger) -> list[str]:
    """Who took part, and for how long."""
    words, weighing, studies = ledger.words, evidence.weighing, evidence.used_studies
    people = ledger.whole("people", weighing.people)
    number = ledger.whole("studies", weighing.k_studies)
    found = [words.say("shown.people", people=people, studies=number)]
    statuses = _present(
        (study.population.training_status for study in studies), (*STATUSES, "mixed")
    )
    if statuses:
        named = _list(words.say(f"status.{status}") for status in statuses)
        found.append(words.say("shown.status", statuses=named))
    sexes = _present((study.population.sex for study in studies), ("female", "male", "mixed"))
    if sexes:
        # Women in one study and men in another are women and men, as in a mixed one.
        both = sexes[0] if len(sexes) == 1 else "mixed"
        found.append(words.say("shown.sexes", sexes=words.say(f"sex.{both}")))
    ages = ages_of(evidence)
    if ages:
        low, high = _age_texts(evidence, ages, ledger=ledger)
        found.append(words.say("shown.age" if low == high else "shown.ages", low=low, high=high))
    shortest, _, longest = evidence.weeks
    low, high = ledger.whole("weeks.low", shortest), ledger.whole("weeks.high", longest)
    found.append(
        words.say("shown.weeks_same" if low == high else "shown.weeks", low=low, high=high)
    )
    return found


def not_known(
    evidences: Iterable[Evidence], *, harms: Sequence[CountedHarm], ledger: Ledger
) -> list[str]:
    """What the studies behind the first answer leave open."""
    answers = [each for each in evidences if each.weighing is not None]
    words, first = ledger.words, answers[0]
    studies = first.used_studies
    _, _, longest = first.weeks
    found = [words.say("unknown.longer", weeks=ledger.whole("weeks.high", longest))]
    present = {study.population.training_status for study in studies}
    if "mixed" not in present:
        absent = [status for status in STATUSES if status not in present]
        if absent:
            named = _list(words.say(f"status.{status}") for status in absent)
            found.append(words.say("unknown.statuses", statuses=named))
    ages = ages_of(first)
    if ages:
        low, high = _age_texts(first, ages, ledger=ledger)
        found.append(words.say("unknown.younger", age=low))
        found.append(words.say("unknown.older", age=high))
    if not harms and not any(
        is_harm(name) for each in answers for name in each.question.constructs
    ):
        found.append(words.say("unknown.harm"))
    found += [harm_not_weighed(each, first, ledger=ledger) for each in harms if not each.answer]
    found.append(words.say("unknown.one"))
    return found


def for_you(
    profile: ClientProfile,
    record: Recommendation,
    evidence: Evidence,
    sizes: ClientSizes,
    *,
    ledger: Ledger,
) -> list[str]:
    """What the profile changes, or keeps from being said."""
    words, found = ledger.words, []
    if profile.minor:
        found.append(words.say("profile.under_18"))
        ledger.given("grown_up", 18, rests_on=FIXED)
    if not profile.status_known:
        found.append(words.say("profile.status_unknown"))
    if evidence.weighing is None:
        return found
    studies = evidence.used_studies
    if profile.status_known:
        present = {study.population.training_status for study in studies}
        if profile.training_status not in present and "mixed" not in present:
            status = words.say(f"status.{profile.training_status}")
            found.append(words.say("profile.status_not_studied", status=status))
    if profile.sex is not None:
        sexes = {study.population.sex for study in studies}
        if not sexes & {profile.sex, "mixed"}:
            named = words.say(f"sex.{profile.sex}")
            found.append(words.say("profile.sex_not_studied", sex=named))
    ages = ages_of(evidence)
    if profile.age is not None and ages:
        age = float(profile.age)
        if not ages[0] - NEAR_YEARS <= age <= ages[1] + NEAR_YEARS:
            text = ledger.given("profile.age", age, rests_on="profile age")
            found.append(words.say("profile.age_outside", age=text))
    found += _baseline(profile, evidence, sizes, ledger=ledger)
    if profile.person() is not None and evidence.certainty is not None:
        share = evidence.certainty.directness.together
        if share == 0:
            found.append(words.say("profile.no_nearness"))
        else:
            said = words.say(f"share.{share_word(share)}")
            found.append(words.say("profile.nearness", share=said))
    if profile.does_now is not None:
        found.append(words.say("profile.does_now", does=profile.does_now.rstrip(".")))
    if set(profile.does_now_tags) & set(evidence.question.intervention or ()):
        found.append(words.say("profile.does_it"))
    if profile.cares_about and profile.cares_about not in evidence.question.constructs:
        label = evidence.vocabulary.label("construct", profile.cares_about)
        cares = words.term(profile.cares_about, label)
        outcome = names_of(evidence, words).outcome
        found.append(words.say("profile.cares", cares=cares, outcome=outcome))
    return found + _time(profile, record, ledger=ledger)


def usable_baseline(profile: ClientProfile | None, evidence: Evidence) -> float | None:
    """The client's start, if it is in the question's unit and not far from those studied."""
    if profile is None or profile.baseline is None or evidence.counts:
        return None
    unit = evidence.question.client.unit
    if unit is None or (profile.unit is not None and not same_unit(profile.unit, unit)):
        return None
    start, seen = float(profile.baseline), starts_of(evidence, unit)
    return start if seen is None or seen[0] <= start <= seen[1] else None


def share_word(share: float) -> str:
    """The key of the fraction nearest to a share, 0 to 1; all of it only where that is meant."""
    if share >= 1 - 1e-9:
        return "all"
    return min(SHARES, key=lambda word: abs(SHARES[word] - share))


def ages_of(evidence: Evidence) -> tuple[float, float] | None:
    """Lowest and highest mean age of the pooled studies."""
    ages = [
        float(study.population.age_mean)
        for study in evidence.used_studies
        if study.population.age_mean is not None
    ]
    return (min(ages), max(ages)) if ages else None


def _age_texts(evidence: Evidence, ages: tuple[float, float], *, ledger: Ledger) -> list[str]:
    """The two ages as written, each resting on the first study that has it."""
    texts = []
    for end, age in zip(("low", "high"), ages, strict=True):
        study = next(
            each
            for each in evidence.used_studies
            if each.population.age_mean is not None and float(each.population.age_mean) == age
        )
        place = f"studies/{study.id}.toml population.age_mean"
        texts.append(ledger.whole(f"age.{end}", age, rests_on=place))
    return texts


def starts_of(evidence: Evidence, unit: str) -> tuple[float, float] | None:
    """Range of starts in the pooled studies: means before training ± 2 SD, in `unit`."""
    used = evidence.weighing.effects[evidence.weighing.effects["used"]]
    ends = []
    for row in used[used["unit"] == unit].itertuples():
        study = evidence.studies[row.study]
        for result in study.results:
            if result.outcome == row.outcome and result.arm in (row.intervention, row.comparator):
                pre = summarise(study, result).pre
                if pre is not None and pre.sd is not None:
                    reach = FAR_SDS * pre.sd.value
                    ends.append((pre.mean.value - reach, pre.mean.value + reach))
    if not ends:
        return None
    return min(low for low, _ in ends), max(high for _, high in ends)


def _baseline(profile, evidence, sizes, *, ledger: Ledger) -> list[str]:
    if profile.baseline is None or evidence.counts:
        return []
    unit = evidence.question.client.unit or ""
    words = ledger.words
    if profile.unit is None and unit:
        return [words.say("profile.baseline_assumed", unit=unit), *_far(profile, evidence, ledger)]
    if profile.unit is not None and not same_unit(profile.unit, unit):
        return [words.say("profile.baseline_unit", unit=profile.unit, other=unit or "?")]
    return _far(profile, evidence, ledger)


def start_outside(evidence: Evidence, before, *, words: Catalogue) -> tuple[str, ...]:
    """Says that a client's start, a mean of trials, is far outside the studies; else empty."""
    trials = [before] if isinstance(before, int | float) else before
    unit = evidence.question.client.unit
    numbers = isinstance(trials, Sequence) and all(isinstance(x, int | float) for x in trials)
    if evidence.weighing is None or unit is None or not numbers or not trials:
        return ()
    start, seen = sum(trials) / len(trials), starts_of(evidence, unit)
    if seen is None or isinstance(trials, str) or seen[0] <= start <= seen[1]:
        return ()
    low, high = (words.number(max(end, 0), decimals=0) for end in seen)
    shown = f"{start:g}".replace(".", words.decimal_mark)
    return (words.say("own.far", start=shown, unit=unit, low=low, high=high),)


def _far(profile: ClientProfile, evidence: Evidence, ledger: Ledger) -> list[str]:
    unit, words = evidence.question.client.unit or "", ledger.words
    start, seen = float(profile.baseline), starts_of(evidence, unit)
    if seen is None or seen[0] <= start <= seen[1]:
        return []
    low, high = (
        ledger.whole(f"starts.{end}", max(value, 0), unit=unit)
        for end, value in zip(("low", "high"), seen, strict=True)
    )
    text = ledger.given("baseline", start, unit=unit, rests_on="profile baseline")
    return [words.say("profile.baseline_far", baseline=text, unit=unit, low=low, high=high)]


def _time(profile: ClientProfile, record: Recommendation, *, ledger: Ledger) -> list[str]:
    asked = record.dose.sessions_per_week
    if asked is None:
        return []
    words = ledger.words
    place = f"recommendations/{record.id}.toml dose.sessions_per_week"
    needs = ledger.given("dose.sessions_per_week", asked[0], rests_on=place)
    if profile.sessions_per_week is not None and profile.sessions_per_week < asked[0]:
        have = ledger.given(
            "profile.sessions", profile.sessions_per_week, rests_on="profile sessions_per_week"
        )
        one = "_one" if profile.sessions_per_week == 1 else ""
        return [words.say(f"profile.sessions_short{one}", have=have, needs=needs)]
    if profile.minutes_per_week is not None:
        have = ledger.given(
            "profile.minutes", profile.minutes_per_week, rests_on="profile minutes_per_week"
        )
        one = "_one" if asked[0] == 1 else ""
        return [words.say(f"profile.time_short{one}", have=have, needs=needs)]
    return []


def _present(values: Iterable[str], order: Iterable[str]) -> list[str]:
    found = set(values)
    return [value for value in order if value in found]


def _list(values: Iterable[str]) -> str:
    return ", ".join(values)
