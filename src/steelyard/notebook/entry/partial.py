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


def typed_path(path: str, values: dict[str, Any], typed: dict[str, Any]) -> str:
    """A path as it was before `without` took entries out.

    Parameters
    ----------
    path : str
        For example ``result[2].n``.
    values, typed : dict
        With entries taken out, and with all of them: the very same ones, not copies.
    """
    place = _PLACE.fullmatch(path)
    if place is None or place["head"] not in _WHOLE_ENTRIES:
        return path
    entry = values[place["head"]][int(place["number"]) - 1]
    number = next(n for n, each in enumerate(typed[place["head"]], 1) if each is entry)
    return f"{place['head']}[{number}]" + (f".{place['rest']}" if place["rest"] else "")


def _drop(target: Any, keys: list[str]) -> bool:
    for key in keys[:-1]:
        target = target.get(key, {}) if isinstance(target, dict) else {}
    return isinstance(target, dict) and target.pop(keys[-1].partition("[")[0], None) is not None
