"""Any record a person could type: never an error, never a fault, and quick."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from time import perf_counter

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from steelyard.errors import Finding
from steelyard.judging.integrity import IntegrityFinding, integrity_findings, suspect_results
from steelyard.judging.integrity.comparisons import EFFECTS
from steelyard.records.record_set import load_records
from steelyard.records.study import Study

EVIDENCE = Path(__file__).resolve().parents[2] / "evidence"

numbers = st.one_of(
    st.decimals(min_value=-500, max_value=500, places=1),
    st.integers(-50, 500).map(Decimal),
    st.sampled_from(
        [Decimal(text) for text in ("0", "0.00", "-0", "1E+400", "1E-400", "9" * 40, "1E+3")]
    ),
)
positive = numbers.map(abs).filter(bool)
people = st.sampled_from([2, 3, 12, 20, 10**6])
pairs = st.tuples(numbers, numbers).map(sorted)
p_values = st.one_of(
    st.decimals(min_value=0, max_value=1, places=3),
    st.sampled_from(["<0.05", ">0.05", "<9", "<.5"]),
)


def some(**fields):
    return st.fixed_dictionaries({}, optional=fields)


intervals = {"ci90": pairs, "ci95": pairs, "ci99": pairs}
subgroups = st.lists(
    st.one_of(
        *(
            st.fixed_dictionaries({"n": people, "mean": numbers, name: spread})
            for name, spread in (("sd", positive), ("se", positive), ("ci95", pairs))
        )
    ),
    min_size=2,
    max_size=3,
).map(lambda groups: {"groups": groups})
plain_spreads = some(
    mean=numbers,
    median=numbers,
    sd=positive,
    se=positive,
    iqr=pairs,
    t=numbers,
    p=p_values,
    reading_error=numbers.map(abs),
    **intervals,
)
spreads = st.one_of(plain_spreads, plain_spreads, plain_spreads, subgroups)
effects = some(
    se=positive,
    sd=positive,
    over=st.sampled_from(["pre-sd", "post-sd", "change-sd"]),
    **intervals,
)
results = some(
    n=people,
    pre=spreads,
    post=spreads,
    change=spreads,
    change_percent=some(mean=numbers, sd=positive, of=st.sampled_from(["people", "means"])),
    events=st.integers(0, 5),
    r=st.decimals(min_value=-1, max_value=1, places=2),
    read_off=st.sampled_from(["table", "figure"]),
)
comparisons = some(
    n_intervention=people,
    n_comparator=people,
    difference=effects,
    standardised=effects,
    log_ratio_of_means=effects,
    log_risk_ratio=effects,
    log_odds_ratio=effects,
    risk_difference=effects,
    log_sd_ratio=effects,
    of=st.sampled_from(["change", "post"]),
    t=numbers,
    f=numbers.map(abs),
    p=p_values,
    adjusted=st.booleans(),
)


def valid(model, values):
    try:
        return model.model_validate(values)
    except ValidationError:
        return None


NEEDED = ("outcome", "arm", "intervention", "comparator", "week")


def passing(base, kind, part):
    """A result or comparison less every field that would not pass by itself."""
    needed = {name: value for name, value in part.items() if name in NEEDED}
    fine = {
        name: value
        for name, value in part.items()
        if valid(Study, base | {kind: [needed | {name: value}]}) is not None
    }
    return needed | fine


@st.composite
def studies(draw):
    """A two-arm study, with every part that alone would not pass left out."""
    kinds = ("parallel", "crossover", "within-person", "cluster")
    base = {
        "schema": 1,
        "id": "typed",
        "source": {"title": draw(st.sampled_from(["One", "…"])), "DOI": draw(st.text(max_size=5))},
        "design": {"kind": draw(st.sampled_from(kinds))},
        "arm": [{"id": "one"} | draw(some(n=people)), {"id": "other"} | draw(some(n=people))],
        "outcome": [
            {
                "id": "peak",
                "construct": draw(st.sampled_from(["strength", "muscle-size", "speed"])),
                "whole_numbers": draw(st.booleans()),
            }
            | draw(some(items=people, better=st.sampled_from(["higher", "lower"])))
        ],
    }
    kept = {"result": [], "comparison": []}
    for week in range(draw(st.integers(1, 3))):
        for arm in ("one", "other"):
            row = draw(results) | {"outcome": "peak", "arm": arm, "week": week}
            kept["result"].append(passing(base, "result", row))
        test = draw(comparisons)
        test |= {name: {"value": draw(numbers)} | test[name] for name in EFFECTS if name in test}
        test |= {"outcome": "peak", "intervention": "one", "comparator": "other", "week": week}
        kept["comparison"].append(passing(base, "comparison", test))
    return valid(Study, base | kept)


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(studies())
def test_no_record_makes_it_raise(study):
    if study is None:
        return
    for finding in integrity_findings({"typed": study, "again": study}):
        assert finding.severity in ("warning", "note")
        assert finding.message
        assert finding.study == "typed"


def test_a_good_share_of_drawn_records_is_kept():
    """The strategy above is no empty sieve."""
    kept = []

    @settings(
        max_examples=60, derandomize=True, deadline=None, suppress_health_check=list(HealthCheck)
    )
    @given(studies())
    def count(study):
        kept.append(study is not None)

    count()
    assert sum(kept) > 0.5 * len(kept)


@pytest.fixture(scope="module")
def shipped():
    return load_records(EVIDENCE).studies


def test_findings_are_of_the_kind_the_rest_expects(shipped):
    found = integrity_findings(shipped)
    assert found
    for finding in found:
        assert isinstance(finding, IntegrityFinding)
        assert isinstance(finding, Finding)
        assert finding.file == f"studies/{finding.study}.toml"
        assert finding.rule == finding.rule.lower()
        assert finding.message.count(". ") == 0  # one sentence
    assert set(suspect_results(found)) == {(f.study, f.outcome) for f in found if f.suspect}


def test_other_findings_are_passed_over():
    plain = Finding("studies/a.toml", "", "warning", "n-above-arm", "more people than the arm has")
    assert suspect_results([plain]) == {}


def test_sixty_studies_in_a_tenth_of_a_second(shipped):
    originals = list(shipped.values())
    sixty = {
        f"s{index}": originals[index % len(originals)].model_copy(update={"id": f"s{index}"})
        for index in range(60)
    }
    times = []
    for _ in range(10):
        start = perf_counter()
        integrity_findings(sixty)
        times.append(perf_counter() - start)
    assert min(times) < 0.1
