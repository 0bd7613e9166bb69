"""Tables as people keep them become the studies they mean, or a list of what is wrong."""

from __future__ import annotations

from decimal import Decimal

import pytest

from tests.records.example_tables import ARMS, COMPARISONS, said, semicolons


def test_a_row_per_arm(table):
    imported = table(ARMS)
    assert said(imported) == [] and imported.layout == "arms" and imported.n_rows == 2
    (study,) = imported.studies
    assert study.id == "oxmere-fell-2019" and study.label == "Oxmere & Fell 2019"
    assert study.source.title == "Slow lowering" and study.source.author[0].given == "A."
    assert study.design.kind == "parallel" and study.design.randomised is True
    assert [(arm.id, arm.name, arm.tags) for arm in study.arms] == [
        ("added", "Added", ("slow-lowering",)),
        ("usual", "Usual", ("usual",)),
    ]
    (outcome,) = study.outcomes
    assert (outcome.id, outcome.construct_id, outcome.site) == (
        "knee-flexion",
        "strength",
        "hamstrings",
    )
    first, second = study.results
    assert (first.arm, first.n, first.week, first.where) == ("added", 18, 12, "Table 2")
    assert (first.pre.mean, first.pre.sd, first.post.se) == tuple(
        map(Decimal, ("212.0", "31.5", "7.9"))
    )
    assert str(first.post.mean) == "236.40" and first.r == Decimal("0.87")
    assert second.r is None and second.where is None


def test_a_row_per_comparison(table):
    imported = table(COMPARISONS)
    assert said(imported) == [] and imported.layout == "comparisons"
    (study,) = imported.studies
    (comparison,) = study.comparisons
    assert comparison.difference.value == Decimal("12.1")
    assert comparison.difference.ci95 == (Decimal("1.0"), Decimal("23.2"))
    assert (comparison.n_intervention, comparison.n_comparator, comparison.week) == (18, 19, 8)
    assert [(arm.id, arm.tags) for arm in study.arms] == [
        ("slow", ("slow-lowering",)),
        ("usual", ("usual",)),
    ]
    assert study.source.title == "Untitled: Holm 2020" and study.design.randomised is None


@pytest.mark.parametrize(
    ("metric", "field"),
    [
        ("raw", "difference"),
        ("Standardised", "standardised"),
        ("standardized", "standardised"),
        ("percent", "log_ratio_of_means"),
        ("risk ratio", "log_risk_ratio"),
        ("odds_ratio", "log_odds_ratio"),
        ("risk-difference", "risk_difference"),
        ("variability-ratio", "log_sd_ratio"),
    ],
)
def test_each_metric_has_its_place(table, metric, field):
    (study,) = table(COMPARISONS.replace(",raw,", f",{metric},")).studies
    (comparison,) = study.comparisons
    assert getattr(comparison, field).value == Decimal("12.1")


@pytest.mark.parametrize(
    ("columns", "cells", "week"), [(",duration_weeks", ",10", 10), ("", "", 0)]
)
def test_a_comparison_without_a_week_is_taken_at_the_end_of_training(table, columns, cells, week):
    header, row = COMPARISONS.splitlines()
    (study,) = table(f"{header}{columns}\n{row.replace(',8,raw', ',,raw')}{cells}\n").studies
    (comparison,) = study.comparisons
    assert comparison.week == week and "end of training" in comparison.notes["week"]


@pytest.mark.parametrize(
    "encoded",
    [
        ARMS.encode("utf-8-sig"),
        ARMS.encode("utf-16"),
        ARMS.encode("utf-16-le"),
        ARMS.encode("utf-16-be"),
        ARMS.replace("\n", "\r\n").encode(),
        ARMS.replace("yes", "Yes")
        .replace("pre_mean", "Pre Mean")
        .replace("post_se", "POSTSE")
        .encode(),
        ARMS.replace("\nOxmere", "\n,,,\n\nOxmere").encode(),
        semicolons(ARMS).encode("cp1252"),
        ("sep=;\r\n" + semicolons(ARMS)).encode("utf-8-sig"),
        semicolons(ARMS).replace(";", "\t").encode(),
    ],
    ids=[
        *("utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "crlf", "headers", "blank rows"),
        *("decimal commas", "separator line", "tabs"),
    ],
)
def test_the_same_numbers_however_the_file_was_saved(table, encoded):
    imported = table(encoded)
    assert said(imported) == []
    (study,), (plain,) = imported.studies, table(ARMS).studies
    assert repr(study.results) == repr(plain.results)
    assert repr(study.arms) == repr(plain.arms)


def test_windows_letters_are_read_and_said(table):
    imported = table(ARMS.replace("Fell 2019", "Føll 2019").encode("cp1252"))
    assert imported.studies[0].id == "oxmere-foll-2019"
    assert "read as cp1252 text" in imported.notes


@pytest.mark.parametrize(
    ("cell", "sd", "mean", "se"),
    [
        ("212.0 ± 31.5,", "31.5", "212.0", None),
        ("−212.0 (31.5),", "31.5", "-212.0", None),
        ('"212,0 ± 31,5",31.5', "31.5", "212.0", None),
    ],
)
def test_a_spread_beside_the_mean_fills_the_sd(table, cell, sd, mean, se):
    (study,) = table(ARMS.replace("212.0,31.5", cell)).studies
    pre = study.results[0].pre
    assert (str(pre.mean), str(pre.sd), pre.se) == (mean, sd, se)


def test_a_spread_beside_the_mean_that_is_the_rows_se_is_not_taken_for_an_sd(table):
    text = ARMS.replace("236.40,7.9", "236.40 ± 7.9,7.9")
    assert table(text).studies[0].results[0].post.sd is None
    other = ARMS.replace("212.0,31.5", "212.0 ± 7.1,31.5")
    assert said(table(other)) == [
        "row 2, column pre_sd: expected one SD, found 31.5 here and 7.1 beside the mean"
    ]


def test_unknown_columns_are_kept_as_notes(table):
    header, first, second = ARMS.splitlines()
    imported = table(f"{header},Lab,,Lab\n{first},north,x,y\n{second},–,,\n")
    assert imported.studies[0].results[0].notes == {
        "Lab": "north",
        "column 21": "x",
        "Lab (2)": "y",
    }
    assert imported.studies[0].results[1].notes == {}
    assert "kept as notes: Lab, column 21, Lab (2)" in imported.notes


def test_words_used_are_told_with_their_place(table):
    words = [(word.kind, word.id, word.label, word.place) for word in table(ARMS).words]
    assert words == [
        ("construct", "strength", "strength", "row 2, column construct"),
        ("site", "hamstrings", "hamstrings", "row 2, column site"),
        ("tag", "slow-lowering", "slow lowering", "row 2, column tags"),
        ("tag", "usual", "usual", "row 3, column tags"),
    ]


def test_names_in_other_scripts_stand_for_the_same_thing_everywhere(table):
    imported = table(COMPARISONS.replace("Slow,Usual", "遅い,普通").replace("Holm", "研究"))
    assert said(imported) == []
    (study,) = imported.studies
    assert study.comparisons[0].intervention == study.arms[0].id != study.arms[1].id
    assert study.arms[0].name == "遅い"
