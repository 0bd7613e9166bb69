"""What all records have in common: frozen models that refuse unknown keys."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, StrictBool, StringConstraints

Identifier = Annotated[str, StringConstraints(strict=True, pattern=r"^[a-z0-9][a-z0-9-]{0,79}$")]
Words = Annotated[str, StringConstraints(strict=True, min_length=1, strip_whitespace=True)]
YesNo = StrictBool


class Record(BaseModel):
    """A record or part of one; immutable, and every key in it is known."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, populate_by_name=True, protected_namespaces=()
    )
