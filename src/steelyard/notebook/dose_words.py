"""A dose in words, with its units."""

from __future__ import annotations

from steelyard.records.recommendation import RecommendedDose
from steelyard.records.study import Dose

_IN_WORDS = {
    "sessions_per_week": "{} sessions a week",
    "sets_per_week": "{} sets a week",
    "direct_sets_per_week": "{} of them for the muscle itself",
    "indirect_sets_per_week": "{} in passing",
    "sets_per_session": "{} sets a session",
    "sets": "{} sets",
    "exercises": "{} exercises",
    "reps": "{} repetitions",
    "load_percent_1rm": "{} % of 1RM",
    "rest_s": "{} s rest between sets",
    "lowering_s": "lowering for {} s",
    "reps_in_reserve": "{} repetitions in reserve",
    "order": "order: {}",
    "range_of_motion": "range of motion: {}",
    "notes": "{}",
}
_ONE = {f"1 {noun}s": f"1 {noun}" for noun in ("session", "set", "exercise", "repetition")}


def dose_in_words(dose: Dose | RecommendedDose) -> str:
    """Every part of a dose that is given, in one line; empty where none is."""
    parts = dose_parts(dose)
    if getattr(dose, "notes", None) and parts[-1][:1].isupper() and len(parts) > 1:
        return f"{', '.join(parts[:-1])}. {parts[-1]}"
    return ", ".join(parts)


def dose_parts(dose: Dose | RecommendedDose) -> list[str]:
    """Every part of a dose that is given, each in words with its unit."""
    parts = []
    for name, phrase in _IN_WORDS.items():
        value = getattr(dose, name, None)
        if value is None:
            continue
        text = phrase.format(_value(value))
        for many, one in _ONE.items():
            if text.startswith(many):
                text = one + text.removeprefix(many)
        parts.append(text)
    return parts


def _value(value) -> str:
    if isinstance(value, tuple):
        low, high = value
        return f"{low:f}" if low == high else f"{low:f} to {high:f}"
    return value if isinstance(value, str) else f"{value:f}"
