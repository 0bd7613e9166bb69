"""Every way papers print results, as a small study with an answer worked by hand.

`styles/studies` is a library; `styles/answers` holds, per study, the arithmetic line by line and
the numbers it leads to. The arithmetic is worked again here, then held against the package.
"""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import pytest
from scipy import integrate, stats

from steelyard.effects.table import build_table
from steelyard.records import load_records
from steelyard.records.question import Question
from steelyard.reporting import TIERS, split_control
from steelyard.reporting.summary import find_result, summarise

FOLDER = Path(__file__).parent / "styles"
ANSWERS = {path.stem: tomllib.loads(path.read_text("utf-8")) for path in FOLDER.rglob("answers/*")}
RECORDS = load_records(FOLDER)
TOLERANCE = 1e-6


def expected_range(n):
    """Range of n standard normal values: the integral of 1 − Φⁿ − (1 − Φ)ⁿ."""
    density = lambda x: 1 - stats.norm.cdf(x) ** n - stats.norm.sf(x) ** n  # noqa: E731
    return integrate.quad(density, -12, 12, epsabs=1e-12, limit=500)[0]


CALCULATOR = {
    "__builtins__": {},
    "sqrt": math.sqrt,
    "log": math.log,
    "atanh": math.atanh,
    "t_quantile": lambda p, df: float(stats.t.ppf(p, df)),
    "z_quantile": lambda p: float(stats.norm.ppf(p)),
    "expected_range": expected_range,
}


def test_there_are_styles_and_each_has_an_answer():
    assert not RECORDS.faults
    assert set(RECORDS.studies) == set(ANSWERS)
    assert len(ANSWERS) >= 24
    for answer in ANSWERS.values():
        assert answer["style"] and answer["source"]
        assert answer.get("effect") or answer.get("refused")


def test_the_styles_reach_every_tier():
    tiers = {effect["tier"] for answer in ANSWERS.values() for effect in answer.get("effect", ())}
    assert tiers == set(TIERS)


@pytest.mark.parametrize("style", sorted(ANSWERS))
def test_arithmetic_as_worked_by_hand(style):
    """Each line is ``name = sum = result``; later lines use earlier names."""
    known: dict[str, float] = {}
    for line in ANSWERS[style]["work"]:
        name, worked, result = (part.strip() for part in line.split(" = "))
        known[name] = float(eval(worked, CALCULATOR, known))
        assert known[name] == pytest.approx(float(result), abs=1e-9), line
    for effect in ANSWERS[style].get("effect", ()):
        for key in ("effect", "variance"):
            assert any(abs(effect[key] - value) < 1e-9 for value in known.values()), (style, key)


def close(value):
    return pytest.approx(value, abs=TOLERANCE, rel=TOLERANCE)


@pytest.mark.parametrize("style", sorted(name for name in ANSWERS if "arm" in ANSWERS[name]))
def test_numbers_of_each_arm(style):
    study = RECORDS.studies[style]
    for answer in ANSWERS[style]["arm"]:
        outcome, week = study.outcomes[0].id, study.results[-1].week
        result = find_result(study, outcome=outcome, arm=answer["arm"], week=week)
        summary = summarise(study, result)
        assert summary.n == answer["n"]
        numbers = []
        for name in ("pre", "post", "change"):
            moments = getattr(summary, name)
            numbers += [] if moments is None else [moments.mean, moments.sd]
            if name not in answer:
                continue
            wanted = answer[name]
            assert moments.mean.value == close(wanted["mean"])
            if "sd" in wanted:
                assert moments.sd.value == close(wanted["sd"])
                assert moments.sd.tier == wanted["tier"]
            else:
                assert moments.sd is None
                assert moments.mean.tier == wanted["tier"]
        if "r" in answer:
            assert summary.r.value == close(answer["r"])
            assert summary.r.tier == answer["r_tier"]
            numbers.append(summary.r)
        chain = "; ".join(step for n in numbers if n is not None for step in n.chain)
        assert [words for words in answer.get("chain", ()) if words not in chain] == []
        for key, told in (("trouble", summary.troubles), ("skewed", summary.skewed)):
            assert bool(told) == (key in answer), (key, told)
            assert all(words in "; ".join(told) for words in answer.get(key, ()))


def asked(study, answer):
    more = {"contrast": answer["asked"]} if "asked" in answer else {}
    return Question(
        id="asked",
        asks="Does slow lowering help?",
        intervention="slow",
        comparator="usual",
        constructs=(answer.get("construct", "strength"),),
        metric=answer["metric"],
        time=answer.get("time", "last"),
        **more,
    )


def row_of(study, answer):
    rows = build_table(asked(study, answer), [study]).rows
    if "rows" in answer:
        assert len(rows) == answer["rows"]
    for key in ("comparison", "outcome", "week"):
        if key in answer:
            rows = rows[rows[key] == answer[key]]
    assert len(rows) == 1
    return rows.iloc[0]


EFFECTS = [
    pytest.param(style, effect, id=f"{style}-{number}-{effect['metric']}")
    for style, answer in sorted(ANSWERS.items())
    for number, effect in enumerate(answer.get("effect", ()), 1)
]


@pytest.mark.parametrize(("style", "answer"), EFFECTS)
def test_effect(style, answer):
    row = row_of(RECORDS.studies[style], answer)
    assert row["effect"] == close(answer["effect"])
    assert row["variance"] == close(answer["variance"])
    for key in ("contrast", "r_from", "tier", "shares"):
        if key in answer:
            assert row[key] == answer[key]
    if "r_used" in answer:
        assert row["r_used"] == close(answer["r_used"])
    assert [flag for flag in row["flags"].split("; ") if flag] == answer["flags"]
    assert [words for words in answer["route"] if words not in row["route"]] == []


REFUSED = [
    pytest.param(style, refused, id=f"{style}-{refused['metric']}")
    for style, answer in sorted(ANSWERS.items())
    for refused in answer.get("refused", ())
]


@pytest.mark.parametrize(("style", "answer"), REFUSED)
def test_refused_with_the_reason(style, answer):
    study = RECORDS.studies[style]
    table = build_table(asked(study, answer), [study])
    assert table.rows.empty
    assert answer["reason"] in "; ".join(out.reason for out in table.left_out)


def test_a_shared_comparator_can_be_split():
    split = ANSWERS["shared-comparator"]["split"]
    found = split_control(split["n"], comparisons=split["comparisons"])
    assert found.value == close(split["each"])
    assert found.tier == "derived"
