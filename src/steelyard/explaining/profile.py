"""A client in a few words: what an explanation may hold the evidence against."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from steelyard.errors import UsageError
from steelyard.judging.person import Person, person
from steelyard.records.model import Identifier, Record, Words
from steelyard.records.printed import PositivePrinted
from steelyard.records.reading import read_record, suggestion
from steelyard.records.settings import Settings
from steelyard.records.vocabulary import Vocabulary

GROWN_UP = 18


class ClientProfile(Record):
    """What a coach knows of a client; no name, only the coach's own code.

    The code is for finding the file. It enters no explanation, page or picture.
    """

    schema_version: Literal[1] | None = None
    code: Identifier | None = None
    training_status: (
        Literal["untrained", "recreational", "trained", "highly-trained", "unknown"] | None
    ) = None
    sex: Literal["female", "male"] | None = None
    age: PositivePrinted | None = None
    does_now: Words | None = None
    does_now_tags: tuple[Identifier, ...] = ()
    baseline: PositivePrinted | None = None
    unit: Words | None = None
    cares_about: Identifier | None = None
    minutes_per_week: PositivePrinted | None = None
    sessions_per_week: PositivePrinted | None = None

    @property
    def status_known(self) -> bool:
        return self.training_status not in (None, "unknown")

    @property
    def minor(self) -> bool:
        return self.age is not None and self.age < GROWN_UP

    def person(self) -> Person | None:
        """The part that certainty and nearness are judged by; None where nothing is known."""
        words = {
            "training_status": self.training_status if self.status_known else None,
            "sex": self.sex,
            "age": None if self.age is None else float(self.age),
        }
        return person(**words) if any(value is not None for value in words.values()) else None


def read_profile(named: str, settings: Settings) -> ClientProfile:
    """A profile by its file, or by the coach's code in the folder of clients.

    Parameters
    ----------
    named : str
        ``FILE.toml``, or a code such as ``k17``.
    settings : Settings
        Names the folder.

    Raises
    ------
    UsageError
        If there is no such file.
    RecordError
        With every fault in the file.
    """
    path = Path(named)
    if path.suffix != ".toml":
        if not _is_code(named):
            raise UsageError(
                f"no profile {named!r}; expected FILE.toml, or a code of small letters, digits "
                "and hyphens"
            )
        path = Path(settings.clients_folder).expanduser() / f"{named}.toml"
    if not path.is_file():
        raise UsageError(f"no profile {path.name!r} there; expected a file or a client's code")
    return read_record(path, ClientProfile)


def check_words(profile: ClientProfile | None, vocabulary: Vocabulary) -> None:
    """Refuse a profile that names what the library has no word for.

    Raises
    ------
    UsageError
        Names the word, the nearest one and all there are.
    """
    if profile is None:
        return
    cares = () if profile.cares_about is None else (profile.cares_about,)
    named = (("cares_about", "construct", cares), ("does_now_tags", "tag", profile.does_now_tags))
    for key, kind, words in named:
        known = vocabulary.words(kind)
        for word in words:
            if word not in known:
                raise UsageError(
                    f"profile, {key}: the library has no {kind} {word!r}"
                    f"{suggestion(word, known)}; there are {', '.join(sorted(known))}"
                )


def _is_code(text: str) -> bool:
    return bool(text) and all(sign in "abcdefghijklmnopqrstuvwxyz0123456789-" for sign in text)
