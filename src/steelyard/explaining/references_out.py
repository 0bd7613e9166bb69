"""References of studies as BibTeX, RIS and CSL-JSON that can be read in again."""

from __future__ import annotations

import json
from collections.abc import Iterable

from steelyard.errors import UsageError
from steelyard.explaining.citations import INVENTED, csl_item
from steelyard.records.study import Study

FORMS = ("bibtex", "ris", "csl-json")
_BIBTEX_TYPES = {
    "article-journal": "article",
    "book": "book",
    "chapter": "incollection",
    "paper-conference": "inproceedings",
    "thesis": "phdthesis",
    "report": "techreport",
    "manuscript": "unpublished",
}
_RIS_TYPES = {
    "article-journal": "JOUR",
    "book": "BOOK",
    "chapter": "CHAP",
    "paper-conference": "CPAPER",
    "thesis": "THES",
    "report": "RPRT",
    "manuscript": "UNPB",
}
_LATEX = str.maketrans(
    {
        "\\": r"\textbackslash{}",
        "{": r"\{",
        "}": r"\}",
        **{sign: f"\\{sign}" for sign in "&%$#_"},
        "~": r"\textasciitilde{}",
        "^": r"\textasciicircum{}",
    }
)
_HELD_IN = {"article": "journal", "incollection": "booktitle", "inproceedings": "booktitle"}


def references_out(studies: Iterable[Study], *, form: str) -> str:
    """Write references.

    Parameters
    ----------
    studies : iterable of Study
    form : str
        ``bibtex``, ``ris`` or ``csl-json``.

    Raises
    ------
    UsageError
        For another form.
    """
    writers = {"bibtex": _bibtex, "ris": _ris}
    cited = list(studies)
    if form == "csl-json":
        return json.dumps([csl_item(study) for study in cited], ensure_ascii=False, indent=2) + "\n"
    if form not in writers:
        raise UsageError(f"no form {form!r}; there are {', '.join(FORMS)}")
    return "\n".join(writers[form](study) for study in cited)


def _bibtex(study: Study) -> str:
    item = csl_item(study)
    kind = _BIBTEX_TYPES.get(item["type"], "misc")
    fields = {"title": f"{{{item['title'].translate(_LATEX)}}}"}
    if people := item.get("author"):
        fields["author"] = " and ".join(map(_bibtex_person, people))
    if "issued" in item:
        fields["year"] = str(item["issued"]["date-parts"][0][0])
    named = {
        _HELD_IN.get(kind, "howpublished"): item.get("container-title"),
        "volume": item.get("volume"),
        "number": item.get("issue"),
        "pages": item.get("page", "").replace("–", "-").replace("-", "--") or None,
        "note": item.get("note"),
    }
    fields |= {name: text.translate(_LATEX) for name, text in named.items() if text}
    # Addresses are read as they stand.
    fields |= {name.lower(): item[name] for name in ("DOI", "URL") if name in item}
    body = ",\n".join(f"  {name} = {{{text}}}" for name, text in fields.items())
    return f"@{kind}{{{study.id},\n{body}\n}}\n"


def _bibtex_person(person: dict) -> str:
    if "literal" in person:
        return f"{{{person['literal'].translate(_LATEX)}}}"
    family = person.get("family", "").translate(_LATEX)
    given = person.get("given", "").translate(_LATEX)
    # Without braces a family name of several words, or a lower-case particle, would be split.
    family = f"{{{family}}}" if " " in family else family
    return f"{family}, {given}" if given else family


def _ris(study: Study) -> str:
    item = csl_item(study)
    lines = [("TY", _RIS_TYPES.get(item["type"], "GEN")), ("ID", study.id), ("TI", item["title"])]
    for person in item.get("author", []):
        name = person.get("literal") or ", ".join(
            part for part in (person.get("family"), person.get("given")) if part
        )
        lines.append(("AU", name))
    if "issued" in item:
        lines.append(("PY", str(item["issued"]["date-parts"][0][0])))
    first, _, last = item.get("page", "").replace("–", "-").partition("-")
    lines += [
        (tag, text)
        for tag, text in (
            ("T2", item.get("container-title")),
            ("VL", item.get("volume")),
            ("IS", item.get("issue")),
            ("SP", first),
            ("EP", last),
            ("DO", item.get("DOI")),
            ("UR", item.get("URL")),
            ("N1", INVENTED if study.invented else None),
        )
        if text
    ]
    # A line break inside a text would start a field that is none.
    body = "".join(f"{tag}  - {' '.join(text.split())}\n" for tag, text in lines)
    return f"{body}ER  - \n"
