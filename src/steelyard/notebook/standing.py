"""What stands under every page, whatever its answer."""

from __future__ import annotations

from dataclasses import dataclass

from steelyard.explaining.page_caution import GENERAL_CAUTIONS
from steelyard.show import Shown


@dataclass(frozen=True, slots=True)
class Cautions(Shown):
    """The cautions, as rows."""

    sentences: tuple[str, ...]

    def _title(self) -> str:
        return "Cautions"

    def _rows(self) -> list[tuple[str, str]]:
        return [("caution", sentence) for sentence in self.sentences]


def cautions() -> Cautions:
    """What no answer here may be taken for."""
    return Cautions(GENERAL_CAUTIONS)
