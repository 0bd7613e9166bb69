"""Citations in every shipped style, and references that come back as they went out."""

from __future__ import annotations

import json

import pytest

from steelyard import open_library
from steelyard.errors import UsageError
from steelyard.explaining.citations import INVENTED, STYLES, cite, in_runs
from steelyard.explaining.references_out import FORMS, references_out
from steelyard.records.references import read_references
from steelyard.records.study import Study

BASE = {
    "schema": 1,
    "id": "x-2020",
    "design": {"kind": "parallel"},
    "arm": [{"id": "a", "n": 10}],
    "outcome": [{"id": "o", "construct": "strength"}],
}
AWKWARD = {
    "type": "article-journal",
    "title": "Lifting & lowering: 50 % of {one} repetition_max, ø and “quotes” #1",
    "author": [
        {"family": "van der Berg", "given": "Ä. B."},
        {"family": "O’Nöel", "given": "C."},
        {"literal": "Tarnside Club Coaches"},
        {"family": "Mononym"},
    ],
    "issued": 2021,
    "container-title": "Journal of Invented Strength & Power Trials",
    "volume": 12,
    "issue": 3,
    "page": "101-110",
    "DOI": "10.5555/a_b-c.1",
    "URL": "https://invented.example/a_b%20c",
}


def made(**source):
    return Study.model_validate({**BASE, "source": source})


@pytest.fixture(scope="module")
def studies():
    return list(open_library().studies.values())


@pytest.mark.parametrize("style", STYLES)
def test_every_style_cites_every_study(studies, style):
    found = cite(studies[:5], style=style)
    assert len(found.references) == 5
    assert found.in_text
    for one in found.references:
        study = next(each for each in studies if each.id == one.study)
        family = study.source.author[0].family or study.source.author[0].literal
        assert family in one.text
        assert str(study.source.issued) in one.text
        assert one.text.endswith(INVENTED)


def test_a_reference_by_the_styles_own_manual():
    """Form of a journal article in the manual of APA style, 7th edition: Family, I. I., &
    Family, I. I. (Year). Title. Journal, volume(issue), pages. https://doi.org/… From memory."""
    study = made(
        title="On slow lowering",
        author=[{"family": "Ashlocke", "given": "Kim"}, {"family": "Cinder", "given": "Wyn L."}],
        issued=2021,
        **{"container-title": "Journal of Invented Strength Trials"},
        volume=12,
        issue=3,
        page="101-110",
        DOI="10.5555/abc",
    )
    found = cite([study], style="apa")
    assert found.in_text == "(Ashlocke & Cinder, 2021)"
    assert found.references[0].text == (
        "Ashlocke, K., & Cinder, W. L. (2021). On slow lowering. Journal of Invented Strength "
        "Trials, 12(3), 101–110. https://doi.org/10.5555/abc"
    )


def test_numbers_in_the_text_match_the_list(studies):
    found = cite(studies[:4], style="ama")
    assert [one.text.split(".")[0] for one in found.references] == ["1", "2", "3", "4"]
    assert found.in_text == "[1–4]"


@pytest.mark.parametrize(
    ("style", "one", "two", "six"),
    [
        # Superscripts in the style, which plain text lacks: in brackets, so that "1" is no number.
        ("ama", "[1]", "[1,2]", "[1–6]"),
        ("nature", "[1]", "[1,2]", "[1–6]"),
        ("vancouver", "(1)", "(1,2)", "(1–6)"),
    ],
)
def test_three_numbers_in_a_row_are_written_from_to(studies, style, one, two, six):
    """The rule of the styles' own manuals: from three on, first and last. From memory."""
    assert [cite(studies[:k], style=style).in_text for k in (1, 2, 6)] == [one, two, six]
    assert cite(studies[:6], style=style).unwrapped == "1–6"


def test_runs_leave_gaps_and_years_alone():
    assert in_runs("(1,2,3,5,7,8)") == "(1–3,5,7,8)"
    assert in_runs("(Ash, 2020; Birch, 2021)") == "(Ash, 2020; Birch, 2021)"


@pytest.mark.parametrize("style", STYLES)
def test_no_style_says_of_an_article_what_its_record_does_not(style):
    bare = {"type": "article-journal", "title": "On lowering", "issued": 2021}
    bare |= {"author": [{"family": "Ash", "given": "K."}], "container-title": "Invented Trials"}
    (one,) = cite([made(**bare)], style=style).references
    assert "reprint" not in one.text
    assert "online" not in one.text
    assert "2021" in one.text
    (own,) = cite([made(**bare | {"title": "On a [Preprint] and more"})], style=style).references
    assert "[preprint]" in own.text.casefold()


def test_the_language_of_a_styles_words(studies):
    english, german = (cite(studies[:3], style="harvard", language=tag) for tag in ("en", "de"))
    assert " and " in english.in_text
    assert " und " in german.in_text


def test_a_style_that_is_not_there():
    with pytest.raises(UsageError, match="nearest known: vancouver"):
        cite([], style="vancuver")
    with pytest.raises(UsageError, match="no form 'docx'"):
        references_out([], form="docx")


@pytest.mark.parametrize("form", FORMS)
def test_what_goes_out_comes_back(form):
    study = made(**AWKWARD)
    back = read_references(references_out([study], form=form))
    assert len(back) == 1
    source = {**back[0].source}
    expected = json.loads(study.source.model_dump_json(by_alias=True, exclude_none=True))
    expected.pop("status")
    for key in ("volume", "issue"):
        expected[key] = str(expected[key])
    assert source == expected


@pytest.mark.parametrize("form", FORMS)
def test_the_shipped_references_come_back(studies, form):
    back = read_references(references_out(studies, form=form))
    assert [one.source["title"] for one in back] == [study.source.title for study in studies]
    assert [one.source["issued"] for one in back] == [study.source.issued for study in studies]
    for one, study in zip(back, studies, strict=True):
        people = [person.model_dump(exclude_none=True) for person in study.source.author]
        assert one.source["author"] == people


@pytest.mark.parametrize("form", FORMS)
def test_an_invented_source_says_so(studies, form):
    assert references_out(studies[:2], form=form).count(INVENTED) == 2
