"""What notebook cells call: one plain call each, and every number comes from the library.

``recommendation("id")`` and ``question("id")`` open a page of evidence; ``overview()`` lists every
recommendation with its answer; ``cautions()`` says what no answer here may be taken for.
"""

from steelyard.notebook.opening import overview, question, recommendation
from steelyard.notebook.standing import cautions

__all__ = ["cautions", "overview", "question", "recommendation"]
