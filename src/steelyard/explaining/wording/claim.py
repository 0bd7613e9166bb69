"""The one sentence: what may be claimed, given certainty, interval and zone."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor, log10

from steelyard.explaining.wording.catalogue import Catalogue
from steelyard.explaining.wording.reading_grade import reading_grade
from steelyard.explaining.wording.rounding import Rounded, rounded_to_support
from steelyard.pooling.verdict import EQUIVALENT, NOT_SETTLED

VERY_LOW = "very low"
MOST_WORDS = 20


@dataclass(frozen=True, slots=True)
class Claim:
    """What a sentence about one weighing rests on; positive favours `a`.

    Attributes
    ----------
    a, b : str
        Names of the two things compared; `b` is not used for a dose.
    outcome, outcome_short : str
        In words; the short one without its place.
    kind : str
        ``gain``, ``lower``, ``event``, ``goal`` or ``other``.
    verdict : str
        ``better``, ``equivalent``, ``worse``, ``not settled`` or empty.
    direction_shown : bool
        Whether the interval leaves zero out.
    certainty : str
        ``high``, ``moderate``, ``low`` or ``very low``.
    value, low, high : float or None
        In `unit`, or people of 100 with `a`; None where no size can be given.
    zone : float or None
        Smallest worthwhile difference, in `unit` or people of 100.
    unit : str
    without : float or None
        Of 100 people with `b`.
    dose : bool
        Whether `a` is a step of dose.
    surrogate : bool
        Whether only a stand-in was measured: the sentence then claims nothing.
    by_chance : bool
        Whether most of the weight is from groups formed by chance; else no cause is claimed.
    favours_b : bool
        Whether the estimate is on the side of `b`.
    """

    a: str
    b: str
    outcome: str
    outcome_short: str
    kind: str
    verdict: str
    direction_shown: bool
    certainty: str
    value: float | None = None
    low: float | None = None
    high: float | None = None
    zone: float | None = None
    unit: str = ""
    without: float | None = None
    dose: bool = False
    surrogate: bool = False
    by_chance: bool = True
    favours_b: bool = False

    @property
    def counts(self) -> bool:
        return self.kind in ("event", "goal")

    @property
    def sized(self) -> bool:
        return self.value is not None

    @property
    def leans_to_b(self) -> bool:
        """Whether what is shown is in favour of `b`."""
        return self.direction_shown and self.favours_b

    @property
    def form(self) -> str:
        """Which of the sentences it may be: the strongest that the facts allow."""
        unknown = self.surrogate or self.certainty == VERY_LOW
        if self.verdict == EQUIVALENT:
            return "unknown_same" if unknown else "same"
        if unknown:
            return "unknown" if self.direction_shown else "unknown_open"
        if not self.direction_shown:
            return "open"
        if not self.by_chance:
            return "goes_with"
        return "leans" if self.verdict == NOT_SETTLED else "gives"


def claim_sentence(claim: Claim, words: Catalogue) -> str:
    """The sentence for a claim; the place of the outcome is left out where it grows too long."""
    shapes = ((claim.outcome, True), (claim.outcome_short, True), (claim.outcome_short, False))
    for outcome, studies in shapes:
        text = _sentence(claim, words, outcome, studies=studies)
        if reading_grade(text).longest <= MOST_WORDS:
            return text
    return _sentence(claim, words, claim.outcome_short, studies=True)


def _sentence(claim: Claim, words: Catalogue, outcome: str, *, studies: bool) -> str:
    if claim.counts:
        return _of_people(claim, words, outcome, studies=studies)
    form, plural = claim.form, claim.dose
    swapped = claim.leans_to_b and not claim.dose
    a, b = (claim.b, claim.a) if swapped else (claim.a, claim.b)
    less_is_good = claim.kind == "lower"
    # A step of dose has no other name to swap with: the same step then gives less.
    less = less_is_good != (claim.dose and claim.leans_to_b)
    than = "" if claim.dose else words.say("phrase.than", b=b)
    span = _span_part(claim, words)
    if form in ("same", "open") and claim.dose:
        form = f"{form}_dose"
    if form == "unknown_same" and claim.dose:
        form, than = "unknown", ""
    text = words.say(
        f"sentence.gain.{form}",
        A=capital(a),
        a=a,
        b=b,
        outcome=outcome,
        outcome_if_span=outcome if span else "",
        more=words.say("phrase.less" if less else "phrase.more"),
        than=than,
        will=verb(claim, words, "verb_many" if plural else "verb"),
        will_many=verb(claim, words, "verb_many"),
        gives=words.say("phrase.gives_many" if plural else "phrase.gives"),
        size_part=_size_part(claim, words),
        span_part=span,
        studies_part=_studies(span, words) if studies else "",
        within_part=_within(claim, words),
    )
    return capital(text)


def _of_people(claim: Claim, words: Catalogue, outcome: str, *, studies: bool) -> str:
    form = claim.form
    a, b = (claim.b, claim.a) if claim.leans_to_b else (claim.a, claim.b)
    span = size = with_part = range_part = ""
    if claim.sized:
        low, high = people_span(claim, words)
        ends = {"low": low, "high": high, "without": whole(claim.without, words)}
        span = words.say("phrase.size_part", size=words.say("sentence.event.span", **ends))
        body = words.say("sentence.event.range", low=low, high=high)
        range_part = words.say("phrase.size_part", size=body)
        with_part = words.say(
            "phrase.size_part", size=words.say("sentence.event.with", outcome=outcome, **ends)
        )
        # Named after the better option: its share first, the other's second.
        pair = (claim.without, claim.value) if claim.leans_to_b else (claim.value, claim.without)
        one, other = (whole(part, words) for part in pair)
        size = words.say(
            "phrase.size_part",
            size=words.say("sentence.event.size", value=one, without=other),
        )
    text = words.say(
        f"sentence.event.{form}",
        A=capital(a),
        a=a,
        b=b,
        outcome=outcome,
        fewer=words.say(f"sentence.event.{'fewer' if claim.kind == 'event' else 'more'}"),
        than=words.say("phrase.than", b=b),
        will=verb(claim, words, "verb"),
        will_many=verb(claim, words, "verb_many"),
        size_part=size,
        span_part=span,
        with_part=with_part,
        range_part=range_part,
        studies_part=_studies(span, words) if studies else "",
    )
    return capital(text)


def _studies(span: str, words: Catalogue) -> str:
    return words.say("phrase.studies_part", span=span.removeprefix(": ")) if span else ""


def span_of(claim: Claim, words: Catalogue) -> str:
    """The interval as words: ``1 kg less to 3 kg more``, or ``12 to 20 N more``."""
    return span_words(claim.low, claim.high, unit=claim.unit, kind=claim.kind, words=words)


def span_words(low: float, high: float, *, unit: str, kind: str, words: Catalogue) -> str:
    """Two ends of an interval, favouring the intervention where positive, as more and less."""
    rounding = rounded_to_support(low, high, low=low, high=high)
    first, last = rounding.values
    good, bad = ("less", "more") if kind == "lower" else ("more", "less")
    ways = {True: words.say(f"phrase.{good}"), False: words.say(f"phrase.{bad}")}
    written = [words.number(abs(end), decimals=rounding.decimals) for end in (first, last)]
    if first < 0 < last:
        return words.say(
            "phrase.span_two_ways",
            low=written[0],
            high=written[1],
            unit=unit,
            low_way=ways[False],
            high_way=ways[True],
        )
    if last <= 0 and first < 0:
        written.reverse()
    return words.say(
        "phrase.span_one_way",
        low=written[0],
        high=written[1],
        unit=unit,
        way=ways[not (last <= 0 and first < 0)],
    )


def people_span(claim: Claim, words: Catalogue) -> tuple[str, str]:
    """The two ends as whole people out of 100."""
    return whole(claim.low, words), whole(claim.high, words)


def whole(value: float, words: Catalogue) -> str:
    """A number of people; below one it keeps a digit, so that few are not called none."""
    if 0 < value < 1:
        return words.number(value, decimals=1 if value >= 0.05 else 2)
    return words.number(value, decimals=0)


def amount(value: float, *, unit: str, words: Catalogue, rounding: Rounded) -> str:
    """One size with its unit, at the rounding of its interval."""
    step = rounding.step
    shown = words.number(round(value / step) * step, decimals=rounding.decimals)
    return words.say("phrase.amount", value=shown, unit=unit)


def zone_words(claim: Claim, words: Catalogue, *, upwards: bool = False) -> str:
    """The smallest worthwhile difference; rounded up where it is said to be ruled out."""
    if claim.zone is None:
        return ""
    if claim.counts:
        return words.say("phrase.of_100", value=whole(claim.zone, words))
    text = two_figures(claim.zone, words, upwards=upwards)
    return words.say("phrase.amount", value=text, unit=claim.unit)


def two_figures(size: float, words: Catalogue, *, upwards: bool = False) -> str:
    """A size above 0 in two figures, the last one dropped where it says nothing."""
    power = floor(log10(size)) - 1
    step = 10.0**power
    units = size / step
    whole_units = ceil(units - 1e-9) if upwards else round(units)
    text = words.number(whole_units * step, decimals=max(0, -power))
    if words.decimal_mark in text:
        text = text.rstrip("0").rstrip(words.decimal_mark)
    return text


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def size_words(claim: Claim, words: Catalogue) -> str:
    """The size with its interval, without a sign: which way is in the sentence."""
    low, high = sorted((abs(claim.low), abs(claim.high)))
    rounding = rounded_to_support(abs(claim.value), low, high, low=low, high=high)
    value, low, high = (words.number(v, decimals=rounding.decimals) for v in rounding.values)
    return words.say("phrase.amount_with_range", value=value, low=low, high=high, unit=claim.unit)


def _size_part(claim: Claim, words: Catalogue) -> str:
    if not claim.sized or not claim.direction_shown:
        return ""
    return words.say("phrase.size_part", size=size_words(claim, words))


def _span_part(claim: Claim, words: Catalogue) -> str:
    if not claim.sized:
        return ""
    if claim.direction_shown:
        low, high = sorted((abs(claim.low), abs(claim.high)))
        rounding = rounded_to_support(low, high, low=low, high=high)
        one, other = (words.number(v, decimals=rounding.decimals) for v in rounding.values)
        span = words.say("phrase.span_short", low=one, high=other, unit=claim.unit)
    else:
        span = span_of(claim, words)
    return words.say("phrase.size_part", size=span)


def _within(claim: Claim, words: Catalogue) -> str:
    if claim.zone is None or not claim.unit:
        return ""
    return words.say("phrase.within_part", zone=zone_words(claim, words, upwards=True))


def verb(claim: Claim, words: Catalogue, table: str = "verb") -> str:
    """The one verb of a certainty; the lowest has none."""
    return "" if claim.certainty == VERY_LOW else words.say(f"{table}.{claim.certainty}")
