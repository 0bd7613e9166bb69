"""Warnings on what can be used with care, and the names records go by."""

from __future__ import annotations

from decimal import Decimal

import pytest

from steelyard.records import Study, load_records
from steelyard.records.printed import decimals
from steelyard.records.reading import parse, validate


def warnings(library, *changes: tuple[str, str]) -> list[tuple[str, str]]:
    path = library / "studies" / "good-one.toml"
    text = path.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path.write_text(text, encoding="utf-8")
    records = load_records(library)
    assert "good-one" in records.studies and records.faults == ()
    return [(finding.path, finding.rule) for finding in records.findings]


def test_a_sound_library_has_no_findings(library):
    assert load_records(library).findings == ()


@pytest.mark.parametrize(
    ("changes", "found"),
    [
        ([("week = 12", "week = 12\nn = 20")], ("result[1].n", "n-above-arm")),
        (
            [("[design]", "[population]\nn_randomised = 37\n\n[design]")],
            ("population.n_randomised", "n-above-randomised"),
        ),
        (
            [("pre = { mean = 210.0, sd = 30.5 }\n", "change_percent = { mean = 2.5 }\n")],
            ("result[2].post", "post-without-pre"),
        ),
        ([('"parallel"', '"cluster"')], ("design.cluster_size", "cluster-size-missing")),
    ],
)
def test_a_warning_leaves_the_study_in(library, changes, found):
    assert warnings(library, *changes) == [found]


NUMBERED = [
    ("pre = { mean = 212.0", "n = 19\npre = { mean = 212.0"),
    ("pre = { mean = 210.0", "n = 20\npre = { mean = 210.0"),
]
COMPARED = """
[[comparison]]
outcome = "knee-flexion"
intervention = "added"
comparator = "usual"
week = 12
n_intervention = {}
n_comparator = {}
p = 0.03
"""
RANDOMISED = "[population]\nn_randomised = {}\n\n[design]"


@pytest.mark.parametrize(
    ("randomised", "changes", "times"),
    [
        # Two arms of 19.
        (38, [], 0),
        (37, [], 1),
        # Only the results say how many: 19 and 20.
        (39, [("n = 19\n", ""), ("n = 19\n", ""), *NUMBERED], 0),
        (38, [("n = 19\n", ""), ("n = 19\n", ""), *NUMBERED], 1),
        # Each person stands in both arms.
        (19, [('"parallel"', '"crossover"')], 0),
        (18, [('"parallel"', '"crossover"')], 1),
        (18, [('"parallel"', '"within-person"')], 1),
    ],
)
def test_people_counted_against_people_randomised(library, randomised, changes, times):
    change = ("[design]", RANDOMISED.format(randomised))
    found = warnings(library, *changes, change)
    assert found == [("population.n_randomised", "n-above-randomised")] * times


def test_people_of_a_comparison(library):
    compared = COMPARED.format(19, 19)
    path = library / "studies" / "good-one.toml"
    sound = path.read_text(encoding="utf-8")
    path.write_text(sound + compared, encoding="utf-8")
    assert warnings(library, ("[design]", RANDOMISED.format(38))) == []
    path.write_text(sound + COMPARED.format(20, 19), encoding="utf-8")
    assert warnings(library, ("[design]", RANDOMISED.format(38))) == [
        ("comparison[1].n_intervention", "n-above-arm"),
        ("population.n_randomised", "n-above-randomised"),
    ]


PRES = [
    ("pre = { mean = 212.0, sd = 31.5 }   # Table 2\n", ""),
    ("pre = { mean = 210.0, sd = 30.5 }\n", ""),
]


def test_nobody_measured_before_is_a_warning_in_every_arm(library):
    assert warnings(library, *PRES) == [
        ("result[1].post", "post-without-pre"),
        ("result[2].post", "post-without-pre"),
    ]


def test_before_in_another_week_of_the_arm_is_enough(library):
    path = library / "studies" / "good-one.toml"
    text = path.read_text(encoding="utf-8")
    later = text[text.index("[[result]]") :].replace("week = 12", "week = 24")
    for old, new in PRES:
        later = later.replace(old, new)
    path.write_text(text + later, encoding="utf-8")
    assert load_records(library).findings == ()


def test_no_vocabulary_is_a_note(library):
    (library / "vocabulary.toml").unlink()
    (finding,) = load_records(library).findings
    assert (finding.severity, finding.rule) == ("note", "no-vocabulary")


def test_progress_counts_every_file(library):
    seen = []
    load_records(library, progress=lambda done, total: seen.append((done, total)))
    assert seen == [(1, 3), (2, 3), (3, 3)]


def test_other_files_in_the_folders_are_let_be(library):
    (library / "studies" / "paper.pdf").touch()
    (library / "studies" / ".good-three.toml.0a1b.part").write_bytes(b"half")
    assert set(load_records(library).studies) == {"good-one", "good-two"}


def test_numbers_keep_their_printed_decimals(library):
    study = load_records(library).studies["good-one"]
    post = study.results[0].post
    assert str(post.mean) == "236.40" and decimals(post.mean) == 2
    assert decimals(Decimal("1E+2")) == 0


@pytest.mark.parametrize(
    ("authors", "year", "label"),
    [
        ("[]", "2019", "a"),
        ('[{ family = "Oxmere" }]', "2019", "Oxmere 2019"),
        (
            '[{ family = "Oxmere" }, { literal = "Tarnside Club" }]',
            "2019",
            "Oxmere & Tarnside Club 2019",
        ),
        (
            '[{ family = "Oxmere" }, { family = "Fell" }, { family = "Brae" }]',
            "2019",
            "Oxmere et al. 2019",
        ),
    ],
)
def test_a_study_is_called_by_its_authors_and_year(authors, year, label):
    text = (
        f'schema = 1\nid = "a"\nsource = {{ title = "t", author = {authors}, issued = {year} }}\n'
        'design = { kind = "parallel" }\narm = [{ id = "x" }]\n'
        'outcome = [{ id = "o", construct = "s" }]\n'
    )
    assert validate(parse(text, file="f"), Study, file="f").label == label
