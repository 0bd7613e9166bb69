"""The words of a client's own result; which way a change went is said, never left to a sign."""

from __future__ import annotations

from math import ceil, log10, sqrt
from typing import TYPE_CHECKING

from scipy.special import ndtri

from steelyard.explaining.wording.catalogue import Catalogue
from steelyard.explaining.wording.claim import two_figures
from steelyard.explaining.wording.rounding import out_of_100

if TYPE_CHECKING:
    from steelyard.explaining.own_result import OwnResult

SURE = ("", "high", "moderate")


def decimals_of(result: OwnResult) -> int:
    """Decimals that the error of the change supports: its own first figure, or one further."""
    return 0 if result.error >= 10 else max(1, 1 + ceil(-log10(2 * result.error)))


def sentence(result: OwnResult, words: Catalogue) -> str:
    """Whether the change is beyond error."""
    way = "within" if not result.beyond_error else "gain" if result.change > 0 else "loss"
    size, least = _sized(result, result.change, words), _plain(result, result.detectable, words)
    return words.say(f"own.{way}", size=size, least=least)


def against_evidence(result: OwnResult, words: Catalogue) -> str:
    """What the studies led one to expect of one measured person, and where the change lies."""
    if result.expected is None:
        return ""
    half = float(ndtri(0.975)) * sqrt(result.expected_sd**2 + result.error**2)
    low, high = result.expected - half, result.expected + half
    reach = float(ndtri((1 + result.level) / 2)) * result.expected_sd
    true_ends = (result.expected - reach, result.expected + reach)
    where = "above" if result.change > high else "below" if result.change < low else "inside"
    said = words.say(
        "own.expected" if result.certainty in SURE else "own.expected_if",
        size=_sized(result, result.expected, words),
        true_span=span(result, *true_ends, words=words),
        span=span(result, low, high, words=words),
    )
    return f"{said} {words.say(f'own.{where}')}"


def rows(result: OwnResult, words: Catalogue) -> list[tuple[str, str]]:
    """Everything a reader is told, in order: names of rows and texts."""
    before, after = (_plain(result, value, words) for value in (result.before, result.after))
    least = _plain(result, result.detectable, words)
    found = [
        (words.say("own.before_after"), words.say("own.two", before=before, after=after)),
        (words.say("own.change"), _sized(result, result.change, words)),
        (words.say("own.detectable"), words.say("own.either_way", size=least)),
        (words.say("own.in_words"), sentence(result, words)),
    ]
    if result.looks_mistyped:
        found.append((words.say("options.harm"), words.say("own.mistyped")))
    if result.expected is not None:
        found += _joined_rows(result, words)
    if result.notes:
        found.append((words.say("own.notes"), " ".join(result.notes)))
    warnings = " ".join(words.say(f"own.{key}") for key in ("mean", "trial"))
    found.append((words.say("own.warning"), warnings))
    found.append((words.say("heading.cautions"), words.say("cautions.advice")))
    if result.invented:
        found.append(("", words.say("page.invented")))
    return found


def span(result: OwnResult, low: float, high: float, *, words: Catalogue) -> str:
    """Two ends in the unit: ``12.0 to 20.0 N more``, or ``1.0 N less to 3.0 N more``."""
    decimals = decimals_of(result)
    # An end that is written as zero goes no way.
    low, high = (round(end, decimals) for end in (low, high))
    first, last = (words.number(abs(end), decimals=decimals) for end in (low, high))
    if low < 0 < high:
        ways = {"low_way": _way(result, low, words), "high_way": _way(result, high, words)}
        key = "phrase.span_two_ways"
    else:
        first, last = (last, first) if high <= 0 else (first, last)
        ways, key = {"way": _way(result, low + high, words)}, "phrase.span_one_way"
    return words.say(key, low=first, high=last, unit=result.unit, **ways)


def _joined_rows(result: OwnResult, words: Catalogue) -> list[tuple[str, str]]:
    reach = float(ndtri((1 + result.level) / 2)) * result.likely_sd
    doubt = "" if result.certainty in SURE else "_if"
    likely = words.say(
        f"own.likely{doubt}",
        size=_sized(result, result.likely, words),
        give=_plain(result, result.likely_sd, words),
        level=f"{100 * result.level:g}",
        span=span(result, result.likely - reach, result.likely + reach, words=words),
        share=_share(result.weight_on_own),
    )
    if not result.beyond_error:
        likely = f"{likely} {words.say('own.not_shown')}"
    found = [
        (words.say("own.evidence"), against_evidence(result, words)),
        (words.say("own.together"), likely),
        (words.say("own.chance_gain"), _chance(result, result.chance_positive, words)),
    ]
    if result.chance_worthwhile is not None:
        least = two_figures(result.worthwhile, words)
        least = words.say("phrase.amount", value=least, unit=result.unit)
        name = words.say("own.chance_worth", size=least)
        found.append((name, _chance(result, result.chance_worthwhile, words)))
    ahead = span(result, result.next_low, result.next_high, words=words)
    found.append((words.say("own.next"), words.say("own.next_said", span=ahead)))
    return found


def _share(weight: float) -> str:
    """Percent; all or nothing only where it is meant."""
    return f"{min(max(round(100 * weight), 1), 99)}"


def _plain(result: OwnResult, value: float, words: Catalogue) -> str:
    text = words.number(value, decimals=decimals_of(result))
    return words.say("phrase.amount", value=text, unit=result.unit)


def _sized(result: OwnResult, value: float, words: Catalogue) -> str:
    plain = _plain(result, abs(value), words)
    return words.say("own.sized", size=plain, way=_way(result, value, words)) if value else plain


def _way(result: OwnResult, value: float, words: Catalogue) -> str:
    return words.say("phrase.more" if (value > 0) == (result.better == "higher") else "phrase.less")


def _chance(result: OwnResult, value: float, words: Catalogue) -> str:
    key = "own.chance" if result.certainty in SURE else "own.chance_if"
    return words.say(key, value=out_of_100(100 * value))
