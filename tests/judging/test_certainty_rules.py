"""Every branch of the shipped rules of certainty, from both sides of each boundary."""

from __future__ import annotations

import pytest

from steelyard.errors import UsageError
from steelyard.judging.certainty.rules import OWN_FILE, certainty_rules, word_of
from steelyard.judging.conditions import first_that_holds

RULES = certainty_rules()
JUST = 1e-6

# A weighing without a blemish; each case below changes a few of its facts.
SOUND = {
    "randomised_weight": 1.0,
    "weight_high": 0.0,
    "weight_some_or_high": 0.0,
    "weight_not_appraised": 0.0,
    "shift_without_high": float("nan"),
    "worthwhile": 0.2,
    "bounds_crossed": 0,
    "k_studies": 12,
    "people": 600,
    "people_per_arm": 300.0,
    "people_needed_per_arm": 100.0,
    "information_ratio": 3.0,
    "zones_more": 0,
    "tau": 0.1,
    "overlap": 0.9,
    "match_together": 1.0,
    "match_worst": 1.0,
    "surrogate": 0.0,
    "elsewhere": 0.0,
    "asymmetry_p": 0.5,
    "shift_unlimited": 0.01,
    "alike_by_size": "no",
    "all_small": "no",
    "all_positive": "no",
    "none_planned": "no",
    "suspect_weight": 0.0,
    "studies_held_out": 0,
    "studies_retracted": 0,
}
FEW = {"k_studies": 9, "all_small": "yes", "all_positive": "yes", "none_planned": "yes"}
SMALL = {"k_studies": 10, "asymmetry_p": 0.05, "shift_unlimited": 0.11}
UNKNOWN = float("nan")

CASES = [
    ("risk of bias", {}, 0),
    ("risk of bias", {"weight_high": 0.5, "weight_some_or_high": 0.5}, -2),
    ("risk of bias", {"weight_high": 0.5 - JUST, "weight_some_or_high": 0.5}, -1),
    ("risk of bias", {"weight_some_or_high": 0.5 - JUST}, 0),
    ("risk of bias", {"weight_high": 0.2, "shift_without_high": 0.1 + JUST}, -1),
    ("risk of bias", {"weight_high": 0.2, "shift_without_high": 0.1}, 0),
    ("risk of bias", {"shift_without_high": 9.0, "worthwhile": UNKNOWN}, 0),
    ("imprecision", {}, 0),
    ("imprecision", {"bounds_crossed": 1}, -1),
    ("imprecision", {"bounds_crossed": 2}, -2),
    ("imprecision", {"bounds_crossed": 2, "k_studies": 1, "people": 49}, -3),
    ("imprecision", {"bounds_crossed": 2, "k_studies": 1, "people": 50}, -2),
    ("imprecision", {"bounds_crossed": 2, "k_studies": 2, "people": 49}, -2),
    ("imprecision", {"information_ratio": 1 - JUST}, -1),
    ("imprecision", {"information_ratio": 1.0}, 0),
    ("imprecision", {"information_ratio": UNKNOWN}, 0),
    (
        "imprecision",
        {"worthwhile": UNKNOWN, "bounds_crossed": UNKNOWN, "information_ratio": UNKNOWN},
        -1,
    ),
    ("inconsistency", {}, 0),
    ("inconsistency", {"zones_more": 1}, -1),
    ("inconsistency", {"zones_more": 2}, -2),
    ("inconsistency", {"zones_more": 2, "tau": 0.0}, 0),
    ("inconsistency", {"zones_more": 1, "tau": JUST}, -1),
    ("inconsistency", {"zones_more": UNKNOWN}, 0),
    ("indirectness", {}, 0),
    ("indirectness", {"match_together": 0.5}, 0),
    ("indirectness", {"match_together": 0.5 - JUST}, -1),
    ("indirectness", {"match_together": JUST}, -1),
    ("indirectness", {"match_together": 0.0}, -1),
    ("indirectness", {"match_together": None}, 0),
    ("indirectness", {"elsewhere": 0.5}, -1),
    ("indirectness", {"elsewhere": 0.5 - JUST}, 0),
    ("indirectness", {"surrogate": 1.0}, -1),
    ("indirectness", {"surrogate": 1 - JUST}, 0),
    ("small-study effects", {}, 0),
    ("small-study effects", SMALL, -1),
    ("small-study effects", {**SMALL, "k_studies": 9}, 0),
    ("small-study effects", {**SMALL, "asymmetry_p": 0.10}, 0),
    ("small-study effects", {**SMALL, "asymmetry_p": 0.10 - JUST}, -1),
    ("small-study effects", {**SMALL, "shift_unlimited": 0.1}, 0),
    ("small-study effects", {**SMALL, "shift_unlimited": 0.1 + JUST}, -1),
    ("small-study effects", {**SMALL, "worthwhile": UNKNOWN}, 0),
    ("small-study effects", {"alike_by_size": "yes"}, 0),
    ("small-study effects", {"asymmetry_p": UNKNOWN}, 0),
    ("small-study effects", FEW, -1),
    ("small-study effects", {**FEW, "k_studies": 10}, 0),
    ("small-study effects", {**FEW, "k_studies": 2}, -1),
    ("small-study effects", {**FEW, "k_studies": 1}, 0),
    ("small-study effects", {**FEW, "all_small": "no"}, 0),
    ("small-study effects", {**FEW, "all_positive": "no"}, 0),
    ("small-study effects", {**FEW, "none_planned": "no"}, 0),
    ("integrity", {}, 0),
    ("integrity", {"suspect_weight": 0.25}, -1),
    ("integrity", {"suspect_weight": 0.25 - JUST}, 0),
]


def domain(name):
    return next(each for each in RULES.domains if each.name == name)


@pytest.mark.parametrize(("name", "changes", "step"), CASES)
def test_step_of_each_branch(name, changes, step):
    rule = first_that_holds(domain(name).rules, SOUND | changes)
    assert rule.gives == step


def test_every_rule_has_a_case_that_it_decides():
    hit = {id(first_that_holds(domain(name).rules, SOUND | changes)) for name, changes, _ in CASES}
    missed = [
        f"{each.name}: {rule.in_words()}"
        for each in RULES.domains
        for rule in each.rules
        if id(rule) not in hit
    ]
    assert not missed


@pytest.mark.parametrize(("share", "level"), [(1.0, 4), (0.5, 4), (0.5 - JUST, 2), (0.0, 2)])
def test_start_by_share_of_randomised_weight(share, level):
    assert first_that_holds(RULES.start, SOUND | {"randomised_weight": share}).gives == level


@pytest.mark.parametrize(
    ("level", "word"),
    [
        *((5, "high"), (4, "high"), (3, "moderate"), (2, "low"), (1, "very low")),
        *((0, "very low"), (-5, "very low")),
    ],
)
def test_words(level, word):
    assert word_of(level) == word


@pytest.mark.parametrize(
    ("changes", "cap"),
    [
        ({"surrogate": 1.0}, "very low"),
        ({"match_together": 0.0}, "low"),
        ({"match_together": JUST}, ""),
    ],
)
def test_caps(changes, cap):
    assert first_that_holds(domain("indirectness").rules, SOUND | changes).caps == cap


def test_every_rule_names_its_source_and_says_something():
    for each in RULES.domains:
        for rule in each.rules:
            assert rule.source
            assert rule.says
            # Every fact a sentence or condition names is one that is computed.
            for condition in rule.when:
                assert condition.fact in SOUND, condition
                assert condition.times in {"", *SOUND}, condition


FAULTY = {
    "no start": ('[[domain]]\nname = "x"\n', "start: expected"),
    "not TOML": ("[[domain\n", "cannot be read"),
    "no last rule": (
        '{start}[[domain]]\nname = "x"\n[[domain.rule]]\n'
        'when = [{{ fact = "tau", above = 0 }}]\nstep = -1\nsays = "s"\nsource = "o"\n',
        "last rule without a condition",
    ),
    "step too large": (
        '{start}[[domain]]\nname = "x"\n[[domain.rule]]\nstep = -4\nsays = "s"\nsource = "o"\n',
        "step from -3 to 1",
    ),
    "no source": (
        '{start}[[domain]]\nname = "x"\n[[domain.rule]]\nstep = 0\nsays = "s"\n',
        "expected source",
    ),
    "unknown test": (
        '{start}[[domain]]\nname = "x"\n[[domain.rule]]\nwhen = [{{ fact = "tau", over = 0 }}]\n'
        'step = 0\nsays = "s"\nsource = "o"\n',
        "not understood",
    ),
    "unknown cap": (
        '{start}[[domain]]\nname = "x"\n[[domain.rule]]\nstep = 0\ncaps = "lowish"\nsays = "s"\n'
        'source = "o"\n',
        "expected a cap",
    ),
    "no domain": ("{start}", "at least one domain"),
}
START = (
    '[start]\nwhen = [{ fact = "randomised_weight", at_least = 0.5 }]\nlevel = 4\notherwise = 2\n'
    'says = "s"\nsource = "o"\n'
)


@pytest.mark.parametrize("name", FAULTY)
def test_faulty_rules_of_a_library_are_refused_with_the_place(tmp_path, name):
    text, message = FAULTY[name]
    text = text.replace("{start}", START).replace("{{", "{").replace("}}", "}")
    (tmp_path / OWN_FILE).write_text(text, encoding="utf-8")
    with pytest.raises(UsageError, match=message):
        certainty_rules(tmp_path)


def test_a_library_may_have_rules_of_its_own(tmp_path):
    text = (
        START + '[[domain]]\nname = "taste"\n[[domain.rule]]\nstep = -1\nsays = "s"\nsource = "o"\n'
    )
    (tmp_path / OWN_FILE).write_text(text, encoding="utf-8")
    assert certainty_rules(tmp_path).domain_names() == ("taste",)
    assert certainty_rules(tmp_path / "elsewhere").domain_names() == RULES.domain_names()
