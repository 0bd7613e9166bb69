"""Statements that claim more than their answers carry, in English and in German."""

from __future__ import annotations

import pytest

from steelyard import open_library
from steelyard.judging.certainty.rules import WORDS
from steelyard.judging.statement_claims import claims_of
from steelyard.judging.told import Standing
from tests.judging.reviewed_library import effect, recommendation
from tests.small_library import question, study

# Each claims what the kind says, at the certainty that its wording takes.
CLAIMS = [
    ("en", "Add it: it makes the hamstrings stronger than lifting alone.", "better", "high"),
    ("en", "Go to twelve: more sets bring more growth.", "better", "high"),
    ("en", "Add it, since it probably prevents strains.", "better", "moderate"),
    ("en", "Add it; it may help.", "better", "low"),
    ("en", "Not for you: the studies lean that way.", "better", "low"),
    ("en", "Rest one minute or three: for size it comes to the same.", "same", "high"),
    ("en", "Choose: which of the two makes a leg stronger is not settled.", "open", "very low"),
    ("de", "Nehmen Sie es auf: Es macht sie stärker als übliches Training.", "better", "high"),
    ("de", "Nehmen Sie es auf: Es könnte vor Zerrungen schützen.", "better", "low"),
    ("de", "Gehen Sie auf zwölf: Mehr Sätze bringen mehr Wachstum.", "better", "high"),
    ("de", "Pause wie es passt: Für die Größe läuft es auf dasselbe hinaus.", "same", "high"),
    ("de", "Versprechen Sie nichts: Es sind zu wenige, um es zu klären.", "open", "very low"),
]
ACTIONS = [
    ("en", "Add slow lowering work to both sessions, for rowers who want stronger hamstrings."),
    ("en", "Do not promise that slow lowering prevents strains."),
    ("en", "Ask whether it makes the hamstrings stronger."),
    ("en", "Rest 2.5 minutes, and lift as well as you can."),
    ("de", "Sagen Sie niemandem, dass es nicht schützt."),
    ("de", "Prüfen Sie, ob es die Beine stärker macht."),
    ("xx", "It makes everybody stronger."),
]


@pytest.mark.parametrize(("language", "statement", "kind", "takes"), CLAIMS)
def test_a_claim_is_found_with_the_certainty_it_takes(language, statement, kind, takes):
    found = {(each.kind, each.takes) for each in claims_of(statement, language=language)}
    assert (kind, takes) in found
    assert {each[0] for each in found} == {kind}


@pytest.mark.parametrize(("language", "statement"), ACTIONS)
def test_what_to_do_claims_nothing(language, statement):
    assert claims_of(statement, language=language) == ()


@pytest.mark.parametrize(
    ("claim", "verdict", "least"),
    [
        ("It makes you stronger.", "better", "high"),
        ("It makes you stronger.", "worse", "high"),
        ("It probably makes you stronger.", "better", "moderate"),
        ("It may make you stronger.", "better", "low"),
        ("It comes to the same.", "equivalent", "high"),
        ("It is not settled.", "not settled", "very low"),
    ],
)
def test_a_claim_holds_from_its_certainty_on_and_with_its_verdict_alone(claim, verdict, least):
    (found,) = claims_of(claim, language="en")
    for said in ("better", "worse", "equivalent", "not settled", None):
        for at, certainty in enumerate(WORDS):
            standing = Standing(*[0.0] * 5, certainty, said, "")
            fits = said == verdict or {said, verdict} == {"better", "worse"}
            assert found.holds(standing) is (fits and at >= WORDS.index(least))


def checked(folder, statement, *, values, more=""):
    for at, value in enumerate(values):
        study(folder, f"s{at}", effect(value))
    question(folder, more="smallest_worthwhile = 0.14")
    path = recommendation(folder, more=more)
    text = path.read_text(encoding="utf-8").replace("Lower slowly.", statement)
    path.write_text(text, encoding="utf-8")
    found = open_library(folder).check()
    return [each for each in found if each.rule == "statement-claims-more"]


STRONG = (0.45, 0.5, 0.55, 0.5)
NONE = (0.0, 0.01, -0.01, 0.0)
OPEN = (0.9, -0.9)


@pytest.mark.parametrize(
    ("statement", "values", "found"),
    [
        ("Lower slowly: it makes you stronger.", STRONG, "claims that one is better or worse"),
        ("Lower slowly: it may make you stronger.", STRONG, "(better, very low certainty)"),
        ("Lower slowly: it may make you stronger.", NONE, "claims that one is better or worse"),
        ("Lower slowly: it comes to the same.", NONE, "claims that both come to the same"),
        ("Lower slowly: it comes to the same.", STRONG, "claims that both come to the same"),
        ("Choose: which one is better is not settled.", STRONG, "claims that it is not settled"),
        ("Choose: which one is better is not settled.", OPEN, None),
        ("Lower slowly.", STRONG, None),
    ],
)
def test_a_claim_is_held_against_verdict_and_certainty(tmp_path, statement, values, found):
    findings = checked(tmp_path, statement, values=values)
    assert bool(findings) is (found is not None)
    for each in findings:
        assert found in each.message
        assert each.severity == "warning" and each.path == "statement"


def test_a_translation_is_held_to_the_same(tmp_path):
    more = '[translations.de]\nstatement = "Langsam ablassen: Es macht Sie stärker."'
    (found,) = checked(tmp_path, "Lower slowly.", values=STRONG, more=more)
    assert found.path == "translations.de.statement"


def test_a_question_that_is_gone_carries_no_claim(tmp_path):
    recommendation(tmp_path)
    path = tmp_path / "recommendations" / "lower.toml"
    text = path.read_text(encoding="utf-8").replace("Lower slowly.", "It makes you stronger.")
    path.write_text(text, encoding="utf-8")
    assert isinstance(open_library(tmp_path).check(), tuple)
