"""What the evidence leads one to expect of one new person who takes up a recommendation."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from scipy.special import ndtri

from steelyard.errors import DesignError
from steelyard.explaining.client_sizes import client_sizes
from steelyard.explaining.evidence import Evidence
from steelyard.explaining.sizes import on_change_scale
from steelyard.explaining.wording.catalogue import Catalogue, catalogue


@dataclass(frozen=True, slots=True)
class Expectation:
    """The true change of one new person, as a normal distribution.

    Attributes
    ----------
    mean, sd : float
        In `unit`, positive for better: usual gain and effect together, before and after.
    unit : str
    worthwhile : float or None
    weeks : float
        The middle of the times studied.
    notes : tuple of str
        How it was reached.
    """

    mean: float
    sd: float
    unit: str
    worthwhile: float | None
    weeks: float
    notes: tuple[str, ...]


def expectation(
    evidence: Evidence, *, typical_error: float, words: Catalogue | None = None
) -> Expectation:
    """Expect of a new person the usual gain plus the effect.

    Notes and reasons are in the language of `words`, English if not given.

    Variance: that of the next group's mean, plus that of true gains between people, which is
    the variance of measured gains, reference SD² × 2(1 − r), less twice the squared typical
    error.

    Raises
    ------
    DesignError
        Where the records lack a unit, a reference SD or the comparators' gains; says which.
    """
    words = words or catalogue()
    if evidence.weighing is None:
        raise DesignError(words.say("own.why_nothing", why=evidence.why_not))
    if evidence.counts:
        raise DesignError(words.say("own.why_counts"))
    sizes, sd = client_sizes(evidence), evidence.question.client.reference_sd
    name = evidence.question.id
    if sizes.average is None or sd is None:
        raise DesignError(words.say("own.why_no_sd", question=name))
    if sizes.usual is None or sizes.r is None:
        raise DesignError(words.say("own.why_no_usual", question=name))
    spread = float(sd)
    r = words.number(sizes.r.value, decimals=2)
    basis = words.say(f"own.r_{sizes.r.basis}", studies=sizes.r.studies)
    notes = [
        words.say("own.usual", studies=sizes.usual.studies),
        words.say("own.r", r=r, basis=basis),
    ]
    if evidence.certainty is not None:
        sure = words.say(f"certainty.{evidence.certainty.word}")
        notes.insert(0, words.say("own.sure", word=sure))
    if sizes.next_group is not None:
        group = (sizes.next_group.high - sizes.next_group.low) / 2
    else:
        group = (sizes.average.high - sizes.average.low) / 2
        notes.append(words.say("own.few"))
    between_groups = group / float(ndtri((1 + sizes.average.level) / 2))
    measured = spread / on_change_scale(1.0, r=sizes.r.value)
    true_variance = measured**2 - 2 * typical_error**2
    if true_variance <= 0:
        true_variance = 0.0
        notes.append(words.say("own.error_alone"))
    return Expectation(
        mean=sizes.usual.in_sd * spread + sizes.average.value,
        sd=sqrt(between_groups**2 + true_variance),
        unit=sizes.unit,
        worthwhile=sizes.zone,
        weeks=evidence.weeks[1],
        notes=tuple(notes),
    )
