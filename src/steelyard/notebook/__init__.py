"""What notebook cells call: one plain call each, and every number comes from the library.

``recommendation("id")`` and ``question("id")`` open a page of evidence; ``overview()`` lists every
recommendation with its answer; ``cautions()`` says what no answer here may be taken for.
``at_a_glance()`` draws all of them, ``told_and_now()`` holds what was told against now,
``to_read_again()`` and ``to_mind()`` say what is due and what weakens an answer.
``enter_study()`` opens the form for a study, ``second_reading("id")`` that for reading one again.
"""

from importlib import import_module

from steelyard.notebook.opening import (
    at_a_glance,
    overview,
    question,
    recommendation,
    to_mind,
    to_read_again,
    told_and_now,
)
from steelyard.notebook.standing import cautions

__all__ = [
    "at_a_glance",
    "cautions",
    "enter_study",
    "overview",
    "question",
    "recommendation",
    "second_reading",
    "to_mind",
    "to_read_again",
    "told_and_now",
]

# The forms need widgets, which no page of evidence does.
_FORMS = {
    "enter_study": "steelyard.notebook.entry.opening",
    "second_reading": "steelyard.notebook.entry.second_opening",
}


def __getattr__(name: str):
    if name in _FORMS:
        return getattr(import_module(_FORMS[name]), name)
    raise AttributeError(f"module 'steelyard.notebook' has no attribute {name!r}")
