"""Ids from words: ``Oxmere & Fell 2019`` is ``oxmere-fell-2019``, always."""

from __future__ import annotations

import functools
import hashlib
import re
import unicodedata

LONGEST_ID = 80
# Letters that Unicode does not take apart into a base letter and a mark.
_LETTERS = str.maketrans(
    {"ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i"}
)


@functools.lru_cache(maxsize=20_000)
def slug(text: str, *, kind: str) -> str:
    """An id of lower-case letters, digits and hyphens.

    Parameters
    ----------
    text : str
        What people wrote.
    kind : str
        What it names; starts the id where the text has no Latin letter or digit to use.
    """
    plain = unicodedata.normalize("NFKD", text.casefold().translate(_LETTERS))
    plain = "".join(character for character in plain if not unicodedata.combining(character))
    words = re.sub(r"[^a-z0-9]+", "-", plain.replace("'", "").replace("’", "")).strip("-")
    if words and len(words) <= LONGEST_ID:
        return words
    # Two long texts that begin alike must not share an id.
    mark = hashlib.sha256(text.strip().casefold().encode("utf-8", "surrogatepass")).hexdigest()[:8]
    start = words[: LONGEST_ID - len(mark) - 1].rstrip("-") or kind
    return f"{start}-{mark}"
