"""From a recommendation, and a client if there is one, to an explanation."""

from __future__ import annotations

import re
from typing import Any

from steelyard.explaining.advice import advice_line
from steelyard.explaining.advised_step import advised_step
from steelyard.explaining.citations import Citations, cite
from steelyard.explaining.client_sizes import ClientSizes, client_sizes
from steelyard.explaining.dose_gaps import dose_gaps, unequal_sets
from steelyard.explaining.dose_lines import dose_lines
from steelyard.explaining.evidence import Evidence, evidence_of
from steelyard.explaining.explanation import Explanation, Line, Section
from steelyard.explaining.harms import CountedHarm, counted_harms, harm_counted
from steelyard.explaining.ledger import FIXED, Ledger, ToldNumber
from steelyard.explaining.names import NOT_JUDGED, claim_of
from steelyard.explaining.people_and_limits import for_you, not_known, shown_for, usable_baseline
from steelyard.explaining.pooled_quantity import pooled_quantity
from steelyard.explaining.profile import ClientProfile, check_words
from steelyard.explaining.record_words import RecordWords, in_language
from steelyard.explaining.told_sizes import ToldSizes, pooled_size
from steelyard.explaining.wording.catalogue import catalogue
from steelyard.explaining.wording.claim import capital, claim_sentence
from steelyard.explaining.wording.lint import lint, words_to_avoid
from steelyard.judging.dose import DoseCheck, check_dose
from steelyard.pooling.answer import differ_shown
from steelyard.pooling.belief import belief
from steelyard.pooling.posterior import Posterior
from steelyard.records.settings import Settings

PARTS_OF_DOSE = re.compile(r"[:,;] ")
CAUTIONS = ("advice", "physician", "signs", "stop", "minors", "rules", "average")


def explain(
    library: Any,
    recommendation_id: str,
    *,
    profile: ClientProfile | None = None,
    settings: Settings | None = None,
    language: str | None = None,
    style: str | None = None,
) -> Explanation:
    """Explain a recommendation.

    Parameters
    ----------
    library : Library
    recommendation_id : str
    profile : ClientProfile, optional
    settings : Settings, optional
        The defaults if none.
    language, style : str, optional
        Of the catalogue and of the citations; the settings' if not given.

    Returns
    -------
    Explanation
        The same, to the letter, for the same records, profile and settings.

    Raises
    ------
    UsageError
        For a recommendation, language or style that is not there, and for a profile that names
        what the library has no word for.
    """
    settings = settings or Settings()
    tag = language or settings.language
    words = catalogue(tag, terms=settings.terms.get(tag))
    check_words(profile, library.vocabulary)
    person = None if profile is None else profile.person()
    record, answers = evidence_of(library, recommendation_id, person=person)
    own_words = in_language(record, words, written_in=settings.records_language)
    record = own_words.record
    ledger = Ledger(words)
    first = answers[0]
    harms = counted_harms(library, answers, person=person)
    told = _Told(own_words, answers, profile, ledger, harms)
    used = {study.id: study for each in answers if each.weighing for study in each.used_studies}
    citations = cite(used.values(), style=style or settings.citation_style, language=tag)
    paragraph = " ".join(told.paragraph())
    sections = told.sections()
    spoken = "\n".join([paragraph, *_spoken(sections)])
    own = "\n".join(line.text for part in sections for line in part.lines if line.own_words)
    invented = record.invented or any(
        each.question.invented or (each.weighing is not None and each.weighing.invented)
        for each in answers
    )
    fingerprints = [each.weighing.fingerprint for each in answers if each.weighing is not None]
    caption = told.caption(citations, "+".join(fingerprints))
    return Explanation(
        recommendation=record,
        language=tag,
        statement_language=settings.records_language if "statement" in own_words.kept else tag,
        sentence=told.sentence,
        paragraph=paragraph,
        sections=sections,
        cautions=tuple(line.text for line in told.cautions()),
        certainty=NOT_JUDGED if first.certainty is None else first.certainty.word,
        certainty_line=told.certainty_line(),
        caption=caption,
        sizes=told.sizes,
        believed=told.believed,
        evidence=answers,
        harms=tuple(each.answer for each in harms if each.answer is not None),
        citations=citations,
        numbers=tuple(ledger.numbers),
        sentence_numbers=told.sentence_numbers,
        slips=(*lint(spoken, words), *words_to_avoid(f"{record.statement}\n{own}", words)),
        invented=invented,
        invented_line=words.say("page.invented") if invented else "",
        fingerprint="+".join(fingerprints),
    )


def _spoken(sections: tuple[Section, ...]) -> list[str]:
    """Lines in the explanation's own words; the fixed cautions are a physician's matter."""
    return [
        # The parts of a dose are read one by one: their line is a list, not a sentence.
        PARTS_OF_DOSE.sub("\n", line.text) if part.key == "do" else line.text
        for part in sections
        if part.key != "cautions"
        for line in part.lines
        if not line.own_words
    ]


class _Told:
    """The parts of one explanation, all from one ledger."""

    def __init__(
        self,
        own_words: RecordWords,
        answers: tuple[Evidence, ...],
        profile: ClientProfile | None,
        ledger: Ledger,
        harms: tuple[CountedHarm, ...],
    ) -> None:
        self.own, self.record = own_words, own_words.record
        self.answers, self.profile, self.ledger = answers, profile, ledger
        self.words = ledger.words
        self.first = answers[0]
        self.sizes: ClientSizes | None = None
        self.believed: Posterior | None = None
        self.told: ToldSizes | None = None
        self.sentence = self.words.say("sentence.other.nothing")
        self.sentence_numbers: tuple[ToldNumber, ...] = ()
        self.doses: tuple[DoseCheck, ...] = ()
        self.harms = harms
        ledger.question = self.first.question.id
        if self.first.weighing is None:
            return
        if self.first.question.metric != "correlation":
            self.doses = check_dose(self.record, self.first.weighing, self.first.studies)
        self.believed = belief(self.first.weighing).used
        baseline = usable_baseline(profile, self.first)
        self.sizes = client_sizes(self.first, baseline=baseline)
        self.sentence = _sentence(self.first, self.sizes, ledger)
        self.sentence_numbers = ledger.taken()
        if self.sizes.kind != "other":
            claim = claim_of(self.first, self.sizes, self.words)
            self.told = ToldSizes(self.first, self.sizes, claim, ledger=ledger)

    def say(self, key: str, **values: object) -> str:
        return self.words.say(key, **values)

    def paragraph(self) -> list[str]:
        """The sentence, the size, what another group would see, how sure."""
        parts = [self.sentence]
        if self.told is not None:
            told = self.told
            parts += [*self._warnings(), *told.beside(self.sentence)]
            parts += [told.next_group(), told.some_groups()]
            if not told.claim.sized:
                parts += self._missing("unit")
        parts += [self.certainty_line(), *self._further()]
        return [part for part in parts if part]

    def certainty_line(self, *, alone: bool = False) -> str:
        """How sure, and the weightiest reason; `alone` below a heading that says of what."""
        certainty = self.first.certainty
        if certainty is None:
            return ""
        down = [step for step in certainty.steps if step.step < 0]
        if certainty.start < 4:
            reason = "start"
        elif down:
            reason = self._reason(min(down, key=lambda step: step.step).domain)
        else:
            reason = "none"
        word = self.say(f"certainty.{certainty.word}")
        line = self.say(
            "paragraph.certainty_alone" if alone else "paragraph.certainty",
            word=capital(word) if alone else word,
            reason=self.say(f"reason.{reason}"),
        )
        return f"{line} {self.say('reason.overruled')}" if certainty.overruled else line

    def _reason(self, domain: str) -> str:
        """Studies are only said to differ where chance would hardly give as much."""
        weighing = self.first.weighing
        shown = weighing is not None and differ_shown(weighing)
        return f"{domain}_shown" if domain == "inconsistency" and shown else domain

    def sections(self) -> tuple[Section, ...]:
        """Everything on the page below the paragraph; empty sections are left out."""
        own = self.own.lines
        known = self.first.weighing is not None
        named = {
            "for_you": self._for_you,
            "do": self._do,
            "expect": self._expect,
            "sure": self._sure,
            "shown_for": self._shown,
            "for_whom": lambda: own("for_whom"),
            "not_for": lambda: own("not_for_whom"),
            "unknown": lambda: self._unknown() if known else [],
            "cost": lambda: own("cost"),
            "risk": lambda: [*own("risk"), *self._harms()],
            "other": lambda: own("alternatives"),
            "change": lambda: own("would_change"),
            "cautions": self.cautions,
        }
        self.ledger.taken()
        found = []
        for key, lines_of in named.items():
            lines = tuple(lines_of())
            part = Section(key, self.say(f"heading.{key}"), lines, self.ledger.taken())
            if lines:
                found.append(part)
        return tuple(found)

    def _do(self) -> list[Line]:
        lines = dose_lines(self.own, added=self._adds_sets(), ledger=self.ledger)
        if self.told is None:
            return lines
        strength = advice_line(self.record, self.answers, self.told.claim, self.words)
        return [*lines, *_lines([strength])]

    def cautions(self) -> list[Line]:
        """The fixed cautions, then the record's own."""
        fixed = [self.say(f"cautions.{key}") for key in CAUTIONS]
        self.ledger.given("grown_up", 18, rests_on=FIXED)
        return [*_lines(fixed), *self.own.lines("cautions")]

    def caption(self, citations: Citations, fingerprint: str) -> str:
        """A line for below a picture."""
        if self.first.weighing is None:
            return self.say("page.caption_none", why=self.first.why_not)
        weighing, claim = self.first.weighing, None if self.told is None else self.told.claim
        return self.say(
            "page.caption",
            studies=self.ledger.whole("studies", weighing.k_studies),
            people=self.ledger.whole("people", weighing.people),
            quantity=pooled_quantity(self.first, self.words),
            size=pooled_size(self.first, claim, self.words),
            citation=citations.unwrapped,
            fingerprint=fingerprint,
        )

    def _warnings(self) -> list[str]:
        """What no shorter text may leave out: harm, stand-ins, groups not formed by chance."""
        claim, found = self.told.claim, []
        if claim.leans_to_b and not claim.dose:
            found.append(self.say("paragraph.harm", a=claim.a, b=claim.b))
        if claim.leans_to_b and claim.dose:
            less = self.say("phrase.no_more_dose", dose=claim.a)
            found.append(self.say("paragraph.harm", a=claim.a, b=less))
        if claim.surrogate:
            found.append(self.say("paragraph.surrogate", outcome=claim.outcome_short))
        if not claim.by_chance:
            found.append(self.say("paragraph.not_by_chance"))
        return found

    def _further(self) -> list[str]:
        """One sentence for every further question, so that none stays hidden."""
        found = []
        for other in self.answers[1:]:
            if other.weighing is None:
                sentence = self.say("sentence.other.nothing")
            else:
                self.ledger.question = other.question.id
                sentence = _sentence(other, client_sizes(other), self.ledger)
                self.ledger.question = self.first.question.id
            found.append(self.say("paragraph.further", sentence=sentence))
        return found

    def _missing(self, *kinds: str) -> list[str]:
        missing = () if self.sizes is None else self.sizes.missing
        unit = self.sizes.unit if self.sizes else ""
        return [
            self.say(f"missing.{each.what}_{each.why}", unit=unit)
            for each in missing
            # Pairs of people are in the machine's view alone, and so is why they may lack.
            if each.what != "chance" and (not kinds or each.what in kinds)
        ]

    def _expect(self) -> list[Line]:
        if self.told is None:
            return _lines(self._missing())
        told = self.told
        parts = [told.average(), told.unit_note(), told.percent(), told.zone()]
        common = {"ledger": self.ledger}
        parts += advised_step(self.record, self.first, self.sizes, told.claim, **common)
        parts += [told.next_group(), told.some_groups(), told.one_person()]
        if self.sizes.one_person is not None:
            parts.append(told.say("one_person_scale"))
        parts += [told.chance(), told.chance_scale(), told.reach(), told.reach_scale()]
        said = dict.fromkeys(parts)
        missing = [text for text in self._missing() if text not in said]
        return _lines([*said, *missing])

    def _sure(self) -> list[Line]:
        if self.first.certainty is None:
            return []
        line = self.certainty_line(alone=True)
        steps = self.first.certainty.steps
        down = [self._reason(step.domain) for step in steps if step.step < 0]
        reasons = [self.say(f"reason.{domain}") for domain in down]
        # What the line says already is not said twice.
        more = [f"{text[:1].upper()}{text[1:]}." for text in reasons if text not in line]
        return _lines([line, *more])

    def _shown(self) -> list[Line]:
        if self.first.weighing is None:
            return []
        return _lines(shown_for(self.first, ledger=self.ledger))

    def _unknown(self) -> list[Line]:
        """What the studies leave open; what came with it, and what dose was not tested, first."""
        gaps = dose_gaps(self.doses, self.first, ledger=self.ledger)
        sets = unequal_sets(self.first, ledger=self.ledger)
        found = not_known(self.answers, harms=self.harms, ledger=self.ledger)
        return _lines([*sets, *gaps, *found])

    def _harms(self) -> list[Line]:
        """Harms that studies of the first answer counted, and what all that counted them say."""
        found, studies = [], self.first.question.id
        for harm in self.harms:
            if harm.answer is None:
                continue
            found.append(harm_counted(harm, self.first, ledger=self.ledger))
            self.ledger.question = harm.answer.question.id
            found += _answer(harm.answer, self.ledger)
            self.ledger.question = studies
        return _lines(found)

    def _adds_sets(self) -> bool:
        return any(check.added for check in self.doses if check.part == "sets_per_week")

    def _for_you(self) -> list[Line]:
        if self.profile is None:
            return []
        sizes = self.sizes or ClientSizes("other")
        return _lines(for_you(self.profile, self.record, self.first, sizes, ledger=self.ledger))


def _sentence(evidence: Evidence, sizes: ClientSizes, ledger: Ledger) -> str:
    if sizes.kind == "other":
        key = "together" if evidence.question.metric == "correlation" else "spread"
        return ledger.words.say(f"sentence.other.{key}")
    claim = claim_of(evidence, sizes, ledger.words)
    ToldSizes(evidence, sizes, claim, ledger=ledger).keep_sentence()
    return claim_sentence(claim, ledger.words)


def _answer(evidence: Evidence, ledger: Ledger) -> list[str]:
    """The one sentence, and the size where the sentence has no room for it."""
    sizes = client_sizes(evidence)
    sentence = _sentence(evidence, sizes, ledger)
    if sizes.kind == "other":
        return [sentence]
    claim = claim_of(evidence, sizes, ledger.words)
    size, _ = ToldSizes(evidence, sizes, claim, ledger=ledger).beside(sentence)
    return [sentence, size]


def _lines(texts) -> list[Line]:
    return [Line(text) for text in texts if text]
