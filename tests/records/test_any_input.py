"""No text and no bytes, however odd, end in anything but a message of our own."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from steelyard.errors import RecordError
from steelyard.records import Question, Recommendation, Study, Vocabulary
from steelyard.records.consistency import study_findings
from steelyard.records.reading import parse, read_record, validate
from steelyard.records.tables import read_table
from steelyard.records.writing import record_to_toml

MODELS = st.sampled_from([Study, Question, Recommendation, Vocabulary])
SHARED = settings(
    max_examples=120,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
BASE = """schema = 1
id = "a"
source = { title = "t", issued = 2019 }
design = { kind = "parallel", randomised = true }
arm = [{ id = "x", n = 12, tags = ["t"] }, { id = "y", n = 12 }]
outcome = [{ id = "o", construct = "s" }]
result = [{ outcome = "o", arm = "x", week = 1, post = { mean = 3.40, sd = 1.0, p = 0.5 } }]
comparison = [{ outcome = "o", intervention = "x", comparator = "y", week = 1, t = 2.0, p = 0.04 }]
"""
ODD_VALUES = [
    *(
        "nan",
        "inf",
        "-inf",
        "1e400",
        "1e-400",
        "1e999999999",
        "-1e999999999",
        "1e99999999999999999999",
    ),
    *("1" * 5000, "0x" + "f" * 5000, "-0", "-0.0", "0b1", "true", '""', '"\\u0000"', "[]", "{}"),
    *(
        "[[[]]]",
        "{ a = nan }",
        "2026-11-25",
        "12:00:00",
        "2026-11-25T12:00:00Z",
        '"' + "x" * 9000 + '"',
    ),
]
OLD_VALUES = ['"a"', "2019", "true", "12", '["t"]', "3.40", "1.0", "0.5", "2.0", "0.04", "week = 1"]


@pytest.mark.parametrize("odd", ODD_VALUES, ids=lambda value: value[:12])
@pytest.mark.parametrize("old", OLD_VALUES)
def test_odd_values_in_every_kind_of_place(old, odd):
    assert old in BASE
    text = BASE.replace(old, f"week = {odd}" if old == "week = 1" else odd, 1)
    try:
        study = validate(parse(text, file="f"), Study, file="f")
    except RecordError as error:
        assert error.findings and all(len(finding.message) < 400 for finding in error.findings)
    else:
        study_findings(study, None, file="f")
        assert repr(validate(parse(record_to_toml(study), file="f"), Study, file="f")) == repr(
            study
        )


@SHARED
@given(st.text(max_size=200) | st.text('abid=[]{}"\\.\n01#-', max_size=60), MODELS)
def test_any_text_as_a_record(text, model):
    try:
        validate(parse(text, file="f"), model, file="f")
    except RecordError as error:
        assert error.findings


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.decimals() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["id", "n", "mean", "sd", "ci95", "arm", "x"]), inner)
    ),
    max_leaves=6,
)
KEYS = st.sampled_from(
    [field.alias or name for model in (Study, Question, Recommendation, Vocabulary)
     for name, field in model.model_fields.items()]
)  # fmt: skip


@SHARED
@given(st.dictionaries(KEYS, VALUES, max_size=8), MODELS)
def test_any_values_as_a_record(values, model):
    try:
        validate(values, model, file="f")
    except RecordError as error:
        assert all("\n" not in finding.path for finding in error.findings)


@SHARED
@given(st.binary(max_size=300), MODELS)
def test_any_bytes_as_a_record_file(tmp_path, content, model):
    path = tmp_path / "a.toml"
    path.write_bytes(content)
    try:
        read_record(path, model)
    except RecordError as error:
        assert {finding.file for finding in error.findings} == {"a.toml"}


HEADERS = [
    b"study,arm,outcome,construct,week,n,post_mean,post_sd,tags,year,authors\n",
    b"study;intervention;comparator;outcome;construct;week;metric;effect;effect_se\n",
    b"",
]
CELLS = st.sampled_from(
    [
        "",
        "A 2020",
        "x",
        "strength",
        "12",
        "1,234",
        "3.4 ± 1",
        "nan",
        "–",
        "raw",
        "1e99",
        '"',
        "'",
        "1;2",
    ]
) | st.text(max_size=6)


@SHARED
@given(
    st.sampled_from(HEADERS),
    st.lists(st.lists(CELLS, max_size=12), max_size=6),
    st.sampled_from(",;\t"),
    st.sampled_from(["utf-8", "utf-16", "cp1252"]),
)
def test_any_cells_as_a_table(tmp_path, header, rows, delimiter, encoding):
    path = tmp_path / "t.csv"
    text = header.decode() + "\n".join(delimiter.join(row) for row in rows)
    path.write_bytes(text.encode(encoding, "replace"))
    imported = read_table(path)
    assert imported.problems or imported.studies
    for study in imported.studies:
        assert repr(validate(parse(record_to_toml(study), file="f"), Study, file="f")) == repr(
            study
        )


@SHARED
@given(st.sampled_from(HEADERS), st.binary(max_size=300), st.sampled_from(["t.csv", "t.xlsx"]))
def test_any_bytes_as_a_table_file(tmp_path, header, content, name):
    path = tmp_path / name
    path.write_bytes(header + content)
    imported = read_table(path)
    assert imported.problems or imported.studies
