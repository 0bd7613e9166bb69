"""What of a half-typed study can be looked at: it without the parts that are wrong."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from steelyard.errors import Finding

_WHOLE_ENTRIES = frozenset({"result", "comparison", "appraisal_overruling"})
_GROUPS = frozenset({"source", "population", "design", "appraisal"})
_PLACE = re.compile(r"(?P<head>[a-z_]+)\[(?P<number>[0-9]+)\](?:\.(?P<rest>.+))?")


def without(values: dict[str, Any], findings: Iterable[Finding]) -> bool:
    """Take out what the findings name; False where there is nothing that could be taken out.

    Results, comparisons and overrulings go as a whole, of anything else only the one value.
    """
    gone: dict[str, set[int]] = {}
    changed = False
    for finding in findings:
        place = _PLACE.fullmatch(finding.path)
        if place is not None and place["head"] in _WHOLE_ENTRIES:
            gone.setdefault(place["head"], set()).add(int(place["number"]) - 1)
        elif place is not None and place["rest"] and place["head"] in ("arm", "outcome"):
            entry = values[place["head"]][int(place["number"]) - 1]
            changed |= _drop(entry, place["rest"].split("."))
        elif "." in finding.path:
            name, *keys = finding.path.split(".")
            if name in _GROUPS:
                changed |= _drop(values.get(name, {}), keys)
    for head, places in gone.items():
        values[head] = [each for n, each in enumerate(values[head]) if n not in places]
        changed = True
    return changed


def _drop(target: Any, keys: list[str]) -> bool:
    for key in keys[:-1]:
        target = target.get(key, {}) if isinstance(target, dict) else {}
    return isinstance(target, dict) and target.pop(keys[-1].partition("[")[0], None) is not None
