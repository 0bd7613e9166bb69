"""Sentences about sizes: average, percent, other groups, one person, people of a hundred."""

from __future__ import annotations

from steelyard.explaining.client_sizes import Band, ClientSizes
from steelyard.explaining.evidence import Evidence
from steelyard.explaining.ledger import FIXED, STUDIES, Ledger
from steelyard.explaining.unit_names import unit_key
from steelyard.explaining.wording.catalogue import Catalogue
from steelyard.explaining.wording.claim import (
    Claim,
    size_words,
    span_of,
    span_words,
    whole,
    zone_words,
)
from steelyard.pooling.verdict import BETTER, EQUIVALENT, NOT_SETTLED

SURE = ("high", "moderate")


def pooled_size(evidence: Evidence, claim: Claim | None, words: Catalogue) -> str:
    """The pooled size with its interval for a caption; no spread is named by its symbol.

    Standardised answers come in the client's unit where there is one, else as so many times the
    spread between people.
    """
    weighing = evidence.weighing
    span = weighing.span(weighing.low, weighing.high)
    size = f"{weighing.text(weighing.estimate)} ({100 * weighing.level:g} %: {span})"
    if evidence.question.metric == "standardised":
        if claim is not None and claim.sized:
            return size_words(claim, words) if claim.direction_shown else span_of(claim, words)
        size = words.say("phrase.in_spread", size=size.replace(weighing.scale.unit, ""))
    ends = words.say("phrase.number_span", low="", high="")
    return size.replace(" to ", f" {ends} ").replace(".", words.decimal_mark)


class ToldSizes:
    """Writes the sentences of one answer; each is empty where it cannot be said."""

    def __init__(
        self, evidence: Evidence, sizes: ClientSizes, claim: Claim, *, ledger: Ledger
    ) -> None:
        self.evidence, self.sizes, self.claim = evidence, sizes, claim
        self.ledger, self.words = ledger, ledger.words
        self.question_file = f"questions/{evidence.question.id}.toml"

    def say(self, key: str, **values: object) -> str:
        return self.words.say(f"paragraph.{key}", **values)

    @property
    def weeks(self) -> str:
        """The middle of the times studied, such as ``12 weeks``."""
        _, middle, _ = self.evidence.weeks
        return self.words.say("phrase.weeks_one", weeks=self.ledger.whole("weeks", middle))

    def average(self) -> str:
        """The size in the unit, after the time studied."""
        if not self.claim.sized:
            return ""
        self._keep_average()
        if self.claim.counts:
            return self._counts()
        if self.claim.direction_shown:
            return self.say("average", weeks=self.weeks, size=size_words(self.claim, self.words))
        span = span_of(self.claim, self.words)
        return self.say("average_across", weeks=self.weeks, span=span, a=self.claim.a)

    def keep_sentence(self) -> None:
        """Enter the numbers that the one sentence wrote."""
        if self.claim.sized:
            self._keep_average()
        if self.claim.zone is not None and not self.claim.counts:
            self._zone(upwards=self.claim.verdict == EQUIVALENT)
        if self.claim.dose:
            step = self.evidence.question.dose_step or 1
            self.ledger.given("dose_step", step, rests_on=f"{self.question_file} dose_step")

    def percent(self) -> str:
        """Percent of where the client, or the usual person, starts."""
        size, start = self.sizes.percent, self.sizes.baseline
        if size is None or start is None or self.claim.counts:
            return ""
        own = "_own" if self.sizes.own_baseline else ""
        source = "profile baseline" if own else f"{self.question_file} client.baseline"
        baseline = self.ledger.given("baseline", start, unit=self.sizes.unit, rests_on=source)
        common = {"baseline": baseline, "unit": self.sizes.unit, "weeks": self.weeks}
        if self.claim.direction_shown:
            low, high = sorted((abs(size.low), abs(size.high)))
            texts = self.ledger.three("percent", abs(size.value), low, high, unit="%")
            return self.say(f"percent{own}", **texts, **common)
        span = self.span("percent", Band(size.low, size.high), unit="%")
        return self.say(f"percent_across{own}", span=span, **common)

    def beside(self, sentence: str) -> list[str]:
        """Size and what it settles, for a paragraph; what its first sentence says is left out."""
        claim = self.claim
        size, zone = self.percent() or self.average(), self.zone()
        if claim.counts and claim.sized and claim.form == "open":
            ends = self.words.say(
                "phrase.number_span",
                low=whole(claim.low, self.words),
                high=whole(claim.high, self.words),
            )
            size = "" if ends in sentence else size
        if claim.form == "same" and not claim.counts and claim.zone is not None:
            zone = "" if zone_words(claim, self.words, upwards=True) in sentence else zone
        return [size, zone]

    def zone(self) -> str:
        """What the verdict settles, against the smallest difference worth having."""
        claim = self.claim
        if claim.verdict == "":
            return self.say("zone_none")
        if claim.verdict == NOT_SETTLED and not claim.direction_shown:
            return "" if claim.form == "unknown_open" else self.say("zone_open")
        if claim.zone is None:
            return ""
        zone = self._zone(upwards=claim.verdict == EQUIVALENT)
        if claim.verdict == EQUIVALENT:
            # Ruled out is a word of the highest certainty alone.
            sure = claim.form == "same" and claim.certainty == "high"
            return self.say("zone_same" if sure else "zone_same_low", zone=zone)
        if claim.verdict == NOT_SETTLED:
            return self.say("zone_leans", zone=zone)
        return self.say("zone_better", zone=zone)

    def next_group(self) -> str:
        """What another group would see; hedged where the studies cannot be leaned on."""
        band = self.sizes.next_group
        if band is None:
            return self.say("no_next_group")
        doubt = "" if self.claim.certainty in SURE else "_if"
        if self.claim.counts:
            low, high = self._people_ends("next_group", band)
            return self.say(f"next_counts{doubt}", low=low, high=high)
        span = self.span("next_group", band)
        return self.say(f"next_group{doubt}", span=span, a=self.claim.a)

    def some_groups(self) -> str:
        """Whether other groups may fall short although the average does not."""
        band, zone = self.sizes.next_group, self.claim.zone
        if self.claim.verdict != BETTER or band is None or zone is None or self.claim.counts:
            return ""
        return self.say("some_groups") if band.low < zone else ""

    def one_person(self) -> str:
        band = self.sizes.one_person
        if band is None:
            return ""
        return self.say("one_person", span=self.span("one_person", band), a=self.claim.a)

    def chance(self) -> str:
        """Who of two random people gains more, in pairs of 100, with its interval.

        Hedged where the studies cannot be leaned on, and without a cause where none was shown.
        """
        size = self.sizes.chance
        if size is None or not self.claim.sized or self.claim.counts:
            return ""
        doubt = "" if self.claim.certainty in SURE else "_if"
        if self.claim.surrogate or not self.claim.by_chance:
            doubt = "_seen"
        pairs = self.say("chance_pairs_dose" if self.claim.dose else "chance_pairs")
        many = "_many" if self.claim.dose else ""
        said = self.say(
            f"chance{doubt}",
            a=self.claim.a,
            bigger=self.words.say(f"phrase.bigger_{self.claim.kind}"),
            brings=self.words.say(f"phrase.brings{many}"),
            went_with=self.words.say(f"phrase.went_with{many}"),
            value=self.ledger.people("chance.value", size.value),
            low=self.ledger.people("chance.low", size.low),
            high=self.ledger.people("chance.high", size.high),
        )
        return f"{pairs} {said}"

    def chance_scale(self) -> str:
        """On which scale that chance is: of changes, not of where people end."""
        if not self.chance():
            return ""
        even = self.ledger.given("chance.even", 50, unit="of 100", rests_on=FIXED)
        return self.say("chance_scale", even=even)

    def reach(self) -> str:
        """How many of 100 people gain enough, with its interval, and how many would anyway.

        The interval carries the effect alone; what would be gained anyway has none of its own.
        People needed and weeks of ordinary training stay in the machine's view.
        """
        sizes = self.sizes
        if self.claim.verdict != BETTER or self.claim.form != "gives":
            return ""
        if sizes.reach is None or sizes.reach_anyway is None:
            return ""
        return self.say(
            "reach",
            a=self.claim.a,
            value=self.ledger.people("reach", sizes.reach.value),
            low=self.ledger.people("reach.low", sizes.reach.low),
            high=self.ledger.people("reach.high", sizes.reach.high),
            anyway=self.ledger.people("reach_anyway", sizes.reach_anyway.value),
            zone=self._zone(),
        )

    def reach_scale(self) -> str:
        """What that counts: measured gains, against a threshold between two programmes."""
        return self.say("reach_scale", zone=self._zone()) if self.reach() else ""

    def unit_note(self) -> str:
        """What the unit is, where few people know it."""
        key = f"unit_note.{unit_key(self.sizes.unit)}"
        if not self.claim.sized or key not in self.words.messages:
            return ""
        numbers = {"ten": 10, "one": 1}
        return self.words.say(
            key,
            **{
                name: self.ledger.given(f"unit.{name}", value, rests_on=FIXED)
                for name, value in numbers.items()
            },
        )

    def span(self, name: str, band: Band, *, unit: str | None = None) -> str:
        """A band in words, its ends kept; in the client's unit if no other is named."""
        kind, unit = self.claim.kind, self.sizes.unit if unit is None else unit
        text = span_words(band.low, band.high, unit=unit, kind=kind, words=self.words)
        self.ledger.span(name, band.low, band.high, unit=unit)
        return text

    def _counts(self) -> str:
        low, high = (whole(end, self.words) for end in (self.claim.low, self.claim.high))
        without = whole(self.claim.without, self.words)
        common = {"a": self.claim.a, "without": without, "weeks": self.weeks}
        if self.claim.direction_shown:
            return self.say("counts", value=whole(self.claim.value, self.words), **common)
        doubt = "" if self.claim.certainty in SURE else "_if"
        return self.say(f"counts_across{doubt}", low=low, high=high, **common)

    def _keep_average(self) -> None:
        claim = self.claim
        if claim.counts:
            for end in ("value", "low", "high"):
                exact = getattr(claim, end)
                text = whole(exact, self.words)
                self.ledger.wrote(f"average.{end}", text, exact, unit="of 100", rests_on=STUDIES)
            self.ledger.wrote(
                "without",
                whole(claim.without, self.words),
                claim.without,
                unit="of 100",
                rests_on=f"{self.question_file} client.baseline",
            )
            return
        if claim.direction_shown:
            low, high = sorted((abs(claim.low), abs(claim.high)))
            self.ledger.three("average", abs(claim.value), low, high, unit=claim.unit)
        else:
            self.span("average", Band(claim.low, claim.high))

    def _people_ends(self, name: str, band: Band) -> tuple[str, str]:
        texts = []
        for end in ("low", "high"):
            exact = getattr(band, end)
            text = whole(exact, self.words)
            self.ledger.wrote(f"{name}.{end}", text, exact, unit="of 100", rests_on=STUDIES)
            texts.append(text)
        return texts[0], texts[1]

    def _zone(self, *, upwards: bool = False) -> str:
        text = zone_words(self.claim, self.words, upwards=upwards)
        self.ledger.wrote(
            "worthwhile",
            text.removesuffix(self.claim.unit).strip().split(" ")[0],
            self.claim.zone,
            unit=self.claim.unit,
            rests_on=f"{self.question_file} smallest_worthwhile",
        )
        return text
