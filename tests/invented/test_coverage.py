"""The shipped library brings every design and every reporting style of the schema into play."""

from __future__ import annotations

import types
from pathlib import Path
from typing import Annotated, Literal, Union, get_args, get_origin

import pytest

from steelyard.records import load_records
from steelyard.records.model import Record
from steelyard.records.study import Study
from steelyard.records.vocabulary import Vocabulary

RECORDS = load_records(Path(__file__).resolve().parents[2] / "evidence")


def _models(annotation) -> set[type[Record]]:
    """Record classes anywhere inside a type."""
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return {annotation}
    return set().union(*map(_models, get_args(annotation)))


def _words(annotation) -> set[str]:
    """Values a type allows by name."""
    if get_origin(annotation) is Literal:
        return {word for word in get_args(annotation) if isinstance(word, str)}
    if get_origin(annotation) in (Annotated, Union, types.UnionType, tuple):
        return set().union(*map(_words, get_args(annotation)))
    return set()


def _schema(model: type[Record], seen: set | None = None):
    """Every (class, key) and (class, key, word) of a record and its parts."""
    seen = set() if seen is None else seen
    if model in seen:
        return
    seen.add(model)
    for name, field in model.model_fields.items():
        yield model.__name__, name, None
        for word in _words(field.annotation):
            yield model.__name__, name, word
        for part in _models(field.annotation):
            yield from _schema(part, seen)


def _used(record: Record):
    """The same triples, as far as a record writes them down."""
    for name in record.model_fields_set:
        value = getattr(record, name)
        yield type(record).__name__, name, None
        if isinstance(value, str):
            yield type(record).__name__, name, value
        for part in value if isinstance(value, tuple) else (value,):
            if isinstance(part, Record):
                yield from _used(part)


def _missing(model: type[Record], records) -> list:
    used = {triple for record in records for triple in _used(record)}
    return sorted((part for part in _schema(model) if part not in used), key=str)


def test_every_key_and_word_of_the_study_schema_occurs():
    assert _missing(Study, RECORDS.studies.values()) == []


def test_every_key_of_the_vocabulary_occurs():
    assert _missing(Vocabulary, [RECORDS.vocabulary]) == []


def test_the_walk_sees_a_key_that_is_not_used():
    plain = RECORDS.studies["saltmire-2017"]
    missing = _missing(Study, [plain])
    assert ("Spread", "iqr", None) in missing
    assert ("Design", "kind", "cluster") in missing
    assert ("Spread", "se", None) not in missing


def test_questions_use_at_least_three_metrics_and_one_dose():
    assert len({question.metric for question in RECORDS.questions.values()}) >= 3
    assert any(question.dose for question in RECORDS.questions.values())


def test_every_word_of_the_vocabulary_is_used():
    studies = RECORDS.studies.values()
    outcomes = [outcome for study in studies for outcome in study.outcomes]
    assert {outcome.construct_id for outcome in outcomes} == RECORDS.vocabulary.words("construct")
    assert {outcome.site for outcome in outcomes} == RECORDS.vocabulary.words("site")
    tags = {tag for study in studies for arm in study.arms for tag in arm.tags}
    assert tags == RECORDS.vocabulary.words("tag")


SHAPES = {
    "p as a bound": lambda s: any(
        isinstance(part.p, str)
        for r in s.results
        for part in (r.pre, r.post, r.change)
        if part is not None
    ),
    "exact p": lambda s: any(c.p is not None and not isinstance(c.p, str) for c in s.comparisons),
    "three arms sharing one": lambda s: len(s.arms) == 3,
    "four arms": lambda s: len(s.arms) == 4,
    "several outcomes": lambda s: len(s.outcomes) > 1,
    "several weeks": lambda s: len({r.week for r in s.results}) > 1,
    "people who left": lambda s: any(r.n and r.n < s.arm(r.arm).n for r in s.results),
    "only a comparison": lambda s: not s.results,
    "no correlation anywhere": lambda s: all(r.r is None for r in s.results),
    "unlike printing in two arms": lambda s: len({_keys_of_percent(r) for r in s.results}) > 2,
    "not randomised": lambda s: s.design.randomised is False,
    "lower is better": lambda s: any(o.better == "lower" for o in s.outcomes),
    "no event in an arm": lambda s: any(r.events == 0 for r in s.results),
    "score in words": lambda s: any(isinstance(v, str) for v in s.design.scores.values()),
}


def _spreads(study):
    for result in study.results:
        yield from ((name, getattr(result, name)) for name in ("pre", "post", "change"))


def _prints(study, kind: str, *keys: str) -> bool:
    """Whether a comparison has this kind of effect with just these parts beside its value."""
    printed = (getattr(comparison, kind) for comparison in study.comparisons)
    return any(
        each is not None and each.model_fields_set - {"value", "over"} == set(keys)
        for each in printed
    )


STYLES = {
    "median, quartiles and range": lambda s: any(
        part is not None and {"median", "iqr", "range"} <= part.model_fields_set
        for _, part in _spreads(s)
    ),
    "exact p of a change": lambda s: any(
        name == "change" and part is not None and part.p is not None and not isinstance(part.p, str)
        for name, part in _spreads(s)
    ),
    "difference with its standard error": lambda s: _prints(s, "difference", "se"),
    "difference with a 90 % interval": lambda s: _prints(s, "difference", "ci90"),
    "difference with a 95 % interval": lambda s: _prints(s, "difference", "ci95"),
    "standardised with its standard error": lambda s: _prints(s, "standardised", "se"),
    "standardised with an interval": lambda s: _prints(s, "standardised", "ci95"),
    "standardised and nothing beside it": lambda s: _prints(s, "standardised"),
    "not significant, and no number": lambda s: any(
        str(c.p).startswith(">") and c.model_fields_set & set(EFFECTS) == set()
        for c in s.comparisons
    ),
}
EFFECTS = ("difference", "standardised", "t", "f", "log_ratio_of_means")


def _keys_of_percent(result) -> tuple[str, ...]:
    return tuple(sorted(result.change_percent.model_fields_set)) if result.change_percent else ()


@pytest.mark.parametrize("shape", list(SHAPES))
def test_the_library_has_a_study_with(shape):
    assert any(SHAPES[shape](study) for study in RECORDS.studies.values())


@pytest.mark.parametrize("style", list(STYLES))
def test_the_library_prints(style):
    assert any(STYLES[style](study) for study in RECORDS.studies.values())


def test_designs_that_need_several():
    kinds = [study.design.kind for study in RECORDS.studies.values()]
    assert kinds.count("within-person") >= 3
    assert kinds.count("single-group") == 1
    retracted = [study.id for study in RECORDS.studies.values() if study.retracted]
    assert retracted == ["harrowmere-2020"]


def test_the_impossible_mean_is_impossible():
    """No whole total over n rounds to it: 0, 1, 2, … over n, two decimals, one item."""
    study = RECORDS.studies["juddlebeck-2021"]
    result = next(r for r in study.results if r.outcome == "soreness" and r.arm == "added")
    assert study.outcome("soreness").whole_numbers
    possible = {f"{total / result.n:.2f}" for total in range(10 * result.n + 1)}
    assert str(result.post.mean) not in possible
    assert str(result.pre.mean) in possible


def test_the_mislabelled_spread_is_a_standard_error():
    """The SDs of one study are those of its kind divided by about the root of n."""
    ratio = [
        float(result.pre.sd / result.pre.mean)
        for study in RECORDS.studies.values()
        for result in study.results
        if result.outcome == "knee-flexion-peak" and result.pre and result.pre.sd
        if study.id != "inchmarsh-2021"
    ]
    doubtful = RECORDS.studies["inchmarsh-2021"]
    for result in doubtful.results:
        study_n = doubtful.arm(result.arm).n
        share = float(result.pre.sd / result.pre.mean)
        assert share < 0.08 < min(ratio)  # an SD below 8 % of the mean is rare for strength
        assert 0.5 < share * study_n**0.5 / (sum(ratio) / len(ratio)) < 2
