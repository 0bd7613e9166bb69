"""What notebook cells call: one plain call each, and every number comes from the library.

``recommendation("id")`` and ``question("id")`` open a page of evidence; ``overview()`` lists every
recommendation with its answer; ``cautions()`` says what no answer here may be taken for.
``enter_study()`` opens the form for a study, ``second_reading("id")`` that for reading one again.
"""

from importlib import import_module

from steelyard.notebook.opening import overview, question, recommendation
from steelyard.notebook.standing import cautions

__all__ = [
    "cautions",
    "enter_study",
    "overview",
    "question",
    "recommendation",
    "second_reading",
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
