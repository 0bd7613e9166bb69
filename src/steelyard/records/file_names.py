"""The names that files of a library beside its studies may have."""

from __future__ import annotations

import re

from steelyard.records.question_words import VOCABULARY_FILE
from steelyard.records.settings import SETTINGS_FILE

RULES_FILE = "certainty-rules.toml"
# A library has these by itself: another's never take their place.
OWN_FILES = (SETTINGS_FILE, RULES_FILE)
_IN_FOLDERS = re.compile(
    r"(?:questions|recommendations|second-readings)/[a-z0-9][a-z0-9-]{0,79}\.toml"
)


def is_library_file(name: str) -> bool:
    """Whether a library may hold a file by this name, beside studies; never a path out of it."""
    return name in (VOCABULARY_FILE, *OWN_FILES) or _IN_FOLDERS.fullmatch(name) is not None
