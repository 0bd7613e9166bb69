"""Citations in four forms, and anything else, read without the internet."""

from __future__ import annotations

import json
import os
import time
from contextlib import suppress
from pathlib import Path

import pytest

from steelyard.errors import UsageError
from steelyard.records.adding import add_file
from steelyard.records.adding_references import source_texts
from steelyard.records.drafts import drafts
from steelyard.records.references import CitationError, plain_doi, read_references
from steelyard.records.study import Source

# The same invented paper in each form.
BIBTEX = r"""
@article{oxmere2013,
  title   = {{Slow} lowering in {M}asters rowers & J{\"u}rgen's \emph{trial}},
  author  = {Oxmere, P. and van der Fell, Rob and {The Tarnside Group}},
  journal = {Journal of Invented Trials}, year = 2013, volume = 12, number = {3},
  pages   = {4--9}, doi = {https://doi.org/10.5555/ABC.1}
}
"""
RIS = """TY  - JOUR
AU  - Oxmere, P.
AU  - van der Fell, Rob
AU  - The Tarnside Group
TI  - Slow lowering in Masters rowers & Jürgen's trial
JO  - Journal of Invented Trials
PY  - 2013/05/01
VL  - 12
IS  - 3
SP  - 4
EP  - 9
DO  - 10.5555/abc.1
ER  - """
CSL = json.dumps(
    {
        "type": "article-journal",
        "title": "Slow lowering in <i>Masters</i> rowers & Jürgen's trial",
        "author": [
            {"family": "Oxmere", "given": "P."},
            {"family": "Fell", "given": "Rob", "non-dropping-particle": "van der"},
            {"literal": "The Tarnside Group"},
        ],
        "container-title": ["Journal of Invented Trials"],
        "issued": {"date-parts": [[2013, 5, 1]]},
        "volume": "12",
        "issue": 3,
        "page": "4-9",
        "DOI": "10.5555/abc.1",
    }
)
EXPECTED = {
    "type": "article-journal",
    "title": "Slow lowering in Masters rowers & Jürgen's trial",
    "author": [
        {"family": "Oxmere", "given": "P."},
        {"family": "van der Fell", "given": "Rob"},
        {"literal": "The Tarnside Group"},
    ],
    "container-title": "Journal of Invented Trials",
    "issued": 2013,
    "volume": "12",
    "issue": "3",
    "page": "4-9",
    "DOI": "10.5555/abc.1",
}


@pytest.mark.parametrize(
    "text",
    [
        BIBTEX,
        RIS,
        CSL,
        f"[{CSL}]",
        "\ufeff" + RIS,
        RIS.removesuffix("\nER  - "),
        RIS.replace("  - ", " - "),
        RIS.replace("\n", "\r\n   "),
    ],
)
def test_one_paper_in_every_form(text):
    (reference,) = read_references(text)
    assert reference.source == EXPECTED
    assert Source.model_validate(reference.source).issued == 2013
    assert source_texts(reference.source)["author"] == (
        "Oxmere, P.; van der Fell, Rob; The Tarnside Group"
    )


@pytest.mark.parametrize(
    ("text", "doi"),
    [
        ("10.5555/ABC", "10.5555/abc"),
        ("https://doi.org/10.5555/abc", "10.5555/abc"),
        ("(doi: 10.5555/ab(c)1).", "10.5555/ab(c)1"),
        ("see 10.5555/abc, and", "10.5555/abc"),
        ("10.5555", ""),
        ("nothing", ""),
    ],
)
def test_a_doi_is_found_in_text(text, doi):
    assert plain_doi(text) == doi


def test_a_sentence_gives_its_doi_and_year_and_says_what_to_type():
    (reference,) = read_references("Oxmere P. (2013). Slow. https://doi.org/10.5555/12345678.")
    assert reference.source == {"DOI": "10.5555/12345678", "issued": 2013}
    assert "type the title and authors" in reference.notes[0]


def test_script_in_a_title_stays_text():
    (reference,) = read_references(json.dumps({"title": "<script>alert(1)</script>"}))
    assert reference.source["title"] == "<script>alert(1)</script>"


@pytest.mark.parametrize(
    "text",
    [
        *("", "  ", "junk", "12.5 ± 3.1", "@article{x, title={", "@article{", "@" * 10_000 + "{"),
        *("[1, 2]", '{"a":', "[{}]", "[" * 100_000, "{" * 100_000, '{"title": ["a", 1]'),
        *("TY  - JOUR\nER  - ", "TY  -", "row\n" * 10_000, "\0\ud800"),
        *('{"title": {"a": 1}, "DOI": 7, "author": "x", "issued": []}', "x" * 2_000_001),
    ],
)
def test_anything_else_is_one_message(text):
    with pytest.raises(CitationError) as told:
        read_references(text)
    assert 0 < len(str(told.value)) < 400


def test_the_parsers_write_nothing(capfd, caplog):
    with pytest.raises(CitationError):
        read_references("@article{x, title={")
    assert capfd.readouterr() == ("", "") and caplog.records == []


def test_a_file_becomes_drafts_and_no_study(library: Path, tmp_path: Path):
    path = tmp_path / "found.bib"
    path.write_text(BIBTEX + "@book{b, title={Another}}", encoding="utf-8")
    shown = add_file(library, path, dry_run=True)
    assert len(shown.drafts) == 2 and drafts(library) == ()
    made = add_file(library, path)
    assert made.drafts == shown.drafts and made.studies == () and made.problems == ()
    assert {draft.form["source"]["title"] for draft in drafts(library)} == set(made.drafts)
    again = add_file(library, path)
    assert again.drafts == () and len(drafts(library)) == 2
    assert any("a draft already" in note for note in again.notes)


def test_a_paper_the_library_has_is_passed_over(library: Path, tmp_path: Path):
    path = tmp_path / "found.json"
    title = "Invented: slow lowering at Tarnside"
    path.write_text(json.dumps([{"title": title, "issued": "2019"}]), encoding="utf-8")
    report = add_file(library, path)
    assert report.drafts == () and "it is the study good-" in report.notes[0]


def test_a_broken_file_leaves_nothing(library: Path, tmp_path: Path, tree_hash):
    before = tree_hash(library)
    for name, text in (("a.bib", BIBTEX + "@article{x, title={"), ("b.json", "[{]"), ("c.ris", "")):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        assert add_file(library, path).problems
    assert tree_hash(library) == before
    with pytest.raises(UsageError):
        add_file(library, tmp_path / "not-there.bib")


def test_an_entry_that_says_nothing_is_told_and_the_others_are_kept(library, tmp_path):
    path = tmp_path / "odd.bib"
    path.write_text(BIBTEX + "@misc{x, note={see there}}\n@book{y, title={Second}}\n", "utf-8")
    tried = add_file(library, path, dry_run=True)
    assert drafts(library) == ()
    report = add_file(library, path)
    assert report == tried and len(report.drafts) == 2
    assert "entry 2 is left out: it has neither a title nor a DOI" in report.notes
    path.write_text("@misc{x, note={see there}}\n", "utf-8")
    (problem,) = add_file(library, path).problems
    assert "with a title or a DOI" in problem.message


def test_a_refusal_of_the_disk_keeps_no_draft(library, tmp_path, monkeypatch, tree_hash):
    path = tmp_path / "two.bib"
    path.write_text(BIBTEX + "@book{y, title={Second}}\n", "utf-8")
    real, calls, before = os.replace, [], tree_hash(library)

    def refuse_third(source, target):
        calls.append(target)
        if len(calls) == 3:
            raise OSError(28, "No space left on device", str(target))
        real(source, target)

    monkeypatch.setattr(os, "replace", refuse_third)
    with pytest.raises(UsageError, match="nothing was changed"):
        add_file(library, path)
    assert len(calls) >= 3 and tree_hash(library) == before, "undoing it is written down too"


@pytest.mark.parametrize(
    ("latex", "name"),
    [
        (r"Mu\~noz", "Muñoz"),
        (r"Mu\~{n}oz", "Muñoz"),
        (r"Mu{\~n}oz", "Muñoz"),
        (r"Mu{\~{n}}oz", "Muñoz"),
        (r"\v{S}koda", "Škoda"),
        (r"\v Skoda", "Škoda"),
        (r"{\v S}koda", "Škoda"),
        (r"{\v{S}}koda", "Škoda"),
        (r"M\"uller", "Müller"),
        (r"{M\"uller}", "Müller"),
        (r"Garc\'{\i}a", "García"),
        (r"Garc{\'\i}a", "García"),
        (r"\.Inan", "İnan"),
        (r"Erd\H{o}s", "Erdős"),
        (r"\c{C}elik", "Çelik"),
        (r"Wa{\l}{\k e}sa", "Wałęsa"),
        (r"\O{}rsted", "Ørsted"),
        (r"\AA strand", "Åstrand"),
        (r"Stra{\ss}e", "Straße"),
        (r"van der Fell~Marsh", "van der Fell Marsh"),
        ("Škoda", "Škoda"),
    ],
)
def test_letters_of_latex_in_a_name(latex, name):
    for text in (
        f"{latex}, P.",
        f"Marsh, A. and {latex}, P.",
        f"{latex}, P. and Marsh, A.",
    ):
        (reference,) = read_references(f"@article{{a, title={{T}}, author={{{text}}}}}")
        assert name in [person["family"] for person in reference.source["author"]], text
    (reference,) = read_references(f"@article{{a, title={{On {latex}}}}}")
    assert reference.source["title"] == f"On {name}"


def test_names_first_and_last_groups_and_others():
    text = r"Jos{\'e} Mu\~noz and {The \'Equipe and Friends} and \'{A}vila, {\'A}. and others"
    (reference,) = read_references(f"@article{{a, title={{T}}, year=2001, author={{{text}}}}}")
    assert reference.source["author"] == [
        {"family": "Muñoz", "given": "José"},
        {"literal": "The Équipe and Friends"},
        {"family": "Ávila", "given": "Á."},
    ]
    assert reference.notes == ("The citation names only the first authors.",)
    (reference,) = read_references(r"@article{a, title={T}, author={A, B, C, D, \~E}}")
    assert reference.source["author"] == [{"literal": "A, B, C, D, Ẽ"}]


@pytest.mark.parametrize(
    ("start", "filling", "end"),
    [
        ("a", "\n", "x"),
        ("a", " \n", "x"),
        ("a\n", " ", "x"),
        ("10.1234/x", ")", ""),
        ("10.1234/x", ").", ""),
        ("a\n", "@ ", "x"),
        ("@article{a, title={", "\\~ ", "}}"),
    ],
)
def test_reading_takes_time_in_proportion_to_length(start, filling, end):
    def seconds(length: int) -> float:
        text = start + filling * (length // len(filling)) + end
        took = []
        for _ in range(3):
            begun = time.perf_counter()
            with suppress(CitationError):
                read_references(text)
            took.append(time.perf_counter() - begun)
        return min(took)

    seconds(500)
    # Ten times the length: in proportion is 10, by the square 100.
    assert seconds(10_000) < 40 * max(seconds(1_000), 2e-4)
