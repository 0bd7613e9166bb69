"""What is written is what is read back, to the last printed digit."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from steelyard.errors import RecordError, UsageError
from steelyard.records import Question, Recommendation, Study, Vocabulary, load_records
from steelyard.records.reading import parse, read_record, validate
from steelyard.records.writing import record_to_toml, write_record

EVIDENCE = Path(__file__).parents[2] / "evidence"


def back(record):
    return validate(parse(record_to_toml(record), file="f"), type(record), file="f")


IDS = st.from_regex(r"[a-z0-9][a-z0-9-]{0,12}", fullmatch=True)
LETTERS = st.characters(exclude_categories=["Cs", "Cc"], include_characters="\t\n\r")
TEXT = st.text(LETTERS, max_size=12)
WORDS = TEXT.map(str.strip).filter(bool)
PRINTED = st.decimals(
    -(10**6), 10**6, allow_nan=False, allow_infinity=False, places=2
) | st.sampled_from(
    [Decimal("3.40"), Decimal("1E+2"), Decimal("-0.0"), Decimal("1.5e-7"), Decimal(12)]
)
POSITIVE = st.decimals("0.001", 10**6, allow_nan=False, allow_infinity=False, places=3)
FEW = st.decimals("0.001", 50, allow_nan=False, allow_infinity=False, places=3)
NOTES = st.dictionaries(TEXT, TEXT, max_size=3)


def some(required, optional):
    return st.fixed_dictionaries(required, optional=optional)


@st.composite
def pairs(draw):
    low, high = sorted((draw(PRINTED), draw(PRINTED)))
    return [low, high if high > low else low + 1]


REPS = st.tuples(FEW, FEW).map(sorted)
SPREADS = some(
    {"mean": PRINTED}, {"sd": POSITIVE, "se": POSITIVE, "t": PRINTED, "p": st.just("<0.05")}
)
EFFECTS = some({"value": PRINTED}, {"se": POSITIVE, "sd": POSITIVE})
RESULTS = some(
    {"outcome": IDS, "arm": IDS, "week": st.integers(0, 52)},
    {
        "n": st.integers(2, 500),
        "pre": SPREADS,
        "post": SPREADS,
        "events": st.integers(0, 9),
        "r": st.sampled_from([Decimal("0.870"), Decimal(-1)]),
        "where": TEXT,
        "read_off": st.sampled_from(["table", "figure"]),
        "notes": NOTES,
    },
)
COMPARISONS = some(
    {"outcome": IDS, "intervention": IDS, "comparator": IDS, "week": st.integers(0, 52)},
    {"difference": EFFECTS, "log_risk_ratio": EFFECTS, "adjusted": st.booleans(), "p": st.just(1)},
)
STUDIES = some(
    {
        "schema": st.just(1),
        "id": IDS,
        "source": some(
            {"title": WORDS},
            {
                "author": st.lists(some({}, {"family": WORDS, "given": TEXT}), max_size=3),
                "issued": st.integers(1800, 2200),
                "container-title": TEXT,
                "volume": TEXT | st.integers(0, 99),
                "status": st.sampled_from(["published", "retracted"]),
            },
        ),
        "design": some(
            {"kind": st.sampled_from(["parallel", "crossover"])},
            {
                "randomised": st.booleans(),
                "duration_weeks": FEW,
                "scores": st.dictionaries(TEXT, PRINTED | TEXT, max_size=2),
            },
        ),
        "arm": st.lists(
            some(
                {"id": IDS},
                {
                    "label": WORDS,
                    "tags": st.lists(IDS, max_size=3),
                    "dose": some({}, {"reps": REPS, "rest_s": FEW, "order": TEXT}),
                },
            ),
            min_size=1,
            max_size=3,
        ),
        "outcome": st.lists(
            some(
                {"id": IDS, "construct": IDS},
                {
                    "unit": TEXT,
                    "better": st.just("lower"),
                    "reliability": some({}, {"sem": POSITIVE}),
                },
            ),
            min_size=1,
            max_size=2,
        ),
    },
    {
        "invented": st.booleans(),
        "population": some({}, {"description": TEXT, "age_mean": FEW}),
        "result": st.lists(RESULTS, max_size=3),
        "comparison": st.lists(COMPARISONS, max_size=2),
        "notes": NOTES,
    },
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(STUDIES)
def test_any_study_comes_back_as_it_was(values):
    study = validate(values, Study, file="f")
    again = back(study)
    assert again == study
    assert repr(again) == repr(study)  # equal numbers may still differ in printed decimals
    assert record_to_toml(again) == record_to_toml(study)


def test_every_record_of_the_library_comes_back(library):
    records = load_records(library)
    every = [*records.studies.values(), *records.questions.values(), records.vocabulary]
    assert len(every) == 4
    for record in every:
        assert repr(back(record)) == repr(record)


def test_every_shipped_record_comes_back():
    kinds = {"studies": Study, "questions": Question, "recommendations": Recommendation}
    files = [(p, kinds[p.parent.name]) for name in kinds for p in (EVIDENCE / name).glob("*.toml")]
    files += [(path, Vocabulary) for path in EVIDENCE.glob("vocabulary.toml")]
    assert {model for _, model in files} >= {Study, Question, Vocabulary}
    for path, model in files:
        record = read_record(path, model)
        assert repr(back(record)) == repr(record), path.name


def test_the_layout_is_the_one_people_write():
    study = validate(
        {
            "schema": 1,
            "id": "tarnside",
            "invented": True,
            "source": {
                "title": "A",
                "author": [{"family": "Oxmere", "given": "A."}],
                "issued": 2019,
            },
            "design": {"kind": "parallel"},
            "arm": [{"id": "added", "dose": {"reps": [6, 10]}, "tags": ["slow-lowering"]}],
            "outcome": [{"id": "knee", "construct": "strength"}],
            "result": [
                {
                    "outcome": "knee",
                    "arm": "added",
                    "week": 12,
                    "n": 18,
                    "pre": {"mean": Decimal("212.0"), "sd": Decimal("3.40")},
                }
            ],
        },
        Study,
        file="f",
    )
    assert record_to_toml(study) == (
        'schema = 1\nid = "tarnside"\ninvented = true\n\n'
        '[source]\ntitle = "A"\nauthor = [{ family = "Oxmere", given = "A." }]\nissued = 2019\n\n'
        '[design]\nkind = "parallel"\n\n'
        '[[arm]]\nid = "added"\ntags = ["slow-lowering"]\ndose = { reps = [6, 10] }\n\n'
        '[[outcome]]\nid = "knee"\nconstruct = "strength"\n\n'
        '[[result]]\noutcome = "knee"\narm = "added"\nweek = 12\nn = 18\n'
        "pre = { mean = 212.0, sd = 3.40 }\n"
    )


def test_questions_and_recommendations_come_back():
    question = Question(
        id="q",
        asks="?",
        intervention="a",
        comparator="b",
        constructs="c",
        time={"weeks": (8, 12)},
        model={"level": Decimal("0.90")},
        assume={
            "r_pre_post": Decimal("0.80"),
            "r_pre_post_range": (Decimal("0.70"), Decimal("0.90")),
        },
    )
    recommendation = Recommendation(
        id="r",
        statement="S",
        questions=("q",),
        dose={"reps": (6, 10)},
        cautions=("one", "two"),
        overrides=(
            {"domain": "d", "step": -1, "reason": "r", "by": "b", "date": dt.date(2026, 1, 2)},
        ),
        reviewed=dt.date(2026, 11, 25),
        told={"estimate": Decimal("0.310"), "low": 0, "high": 1, "fingerprint": "f"},
    )
    for record in (question, recommendation):
        assert repr(back(record)) == repr(record)
    assert "time = { weeks = [8, 12] }" in record_to_toml(question)
    assert "reviewed = 2026-11-25" in record_to_toml(recommendation)


def good(library) -> Study:
    return read_record(library / "studies" / "good-one.toml", Study)


def test_writing_refuses_to_overwrite_unless_told(library, tree_hash):
    path, study, before = library / "studies" / "good-one.toml", good(library), tree_hash(library)
    with pytest.raises(UsageError, match="already there"):
        write_record(path, study)
    assert tree_hash(library) == before
    write_record(path, study, replace=True)
    assert read_record(path, Study) == study and tree_hash(library) != before


def test_writing_refuses_what_is_no_record_or_has_another_name(library, tree_hash):
    before = tree_hash(library)
    with pytest.raises(RecordError, match="required"):
        write_record(library / "studies" / "x.toml", {"id": "x"})
    with pytest.raises(RecordError, match="id-is-file-name"):
        write_record(library / "studies" / "x.toml", good(library))
    assert tree_hash(library) == before


def test_plain_values_are_written_as_the_record_they_are(library):
    path = library / "questions" / "new.toml"
    values = {"id": "new", "asks": "?", "intervention": "a", "comparator": "b", "constructs": ["c"]}
    write_record(path, values, model=Question)
    assert read_record(path, Question) == Question(**values)
