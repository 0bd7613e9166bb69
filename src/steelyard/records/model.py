"""What all records have in common: frozen models that refuse unknown keys."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterable, Iterator
from typing import Annotated

from pydantic import BaseModel, ConfigDict, StrictBool, StringConstraints, model_validator
from pydantic_core import PydanticCustomError

Identifier = Annotated[str, StringConstraints(strict=True, pattern=r"^[a-z0-9][a-z0-9-]{0,79}$")]
Words = Annotated[str, StringConstraints(strict=True, min_length=1, strip_whitespace=True)]
YesNo = StrictBool

# Keys from the record down to the place, the rule's name, what was expected and found.
Broken = tuple[tuple[str, ...], str, str]


class Record(BaseModel):
    """A record or part of one; immutable, and every key in it is known."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, populate_by_name=True, protected_namespaces=()
    )


class RuledRecord(Record, ABC):
    """A record with rules over several of its keys."""

    @abstractmethod
    def rules(self) -> Iterator[Iterable[Broken]]:
        """What each rule finds broken, rule by rule: one may lack what another has."""

    @model_validator(mode="after")
    def _keeps_its_rules(self):
        for found in self.rules():
            for _, rule, message in found:
                # All of them are gathered afterwards; here one is enough to refuse the record.
                raise PydanticCustomError(rule, "{said}", {"said": message, "by_rule": True})
        return self
