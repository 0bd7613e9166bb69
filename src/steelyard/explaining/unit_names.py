"""Units as people write them: newton, newtons and N are one."""

from __future__ import annotations

# In the languages of the catalogues; small letters throughout.
SAME = (
    ("n", "newton", "newtons"),
    ("kg", "kilo", "kilos", "kilogram", "kilograms", "kilogramme", "kilogrammes", "kilogramm"),
    ("lb", "lbs", "pound", "pounds", "pfund"),
    ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    ("cm", "centimetre", "centimetres", "centimeter", "centimeters", "zentimeter"),
    ("m", "metre", "metres", "meter", "meters"),
    ("w", "watt", "watts"),
    ("nm", "n·m", "n m", "newton metre", "newton metres", "newton meter", "newtonmeter"),
    ("s", "sec", "second", "seconds", "sekunde", "sekunden"),
    ("min", "minute", "minutes", "minuten"),
    ("%", "percent", "per cent", "prozent"),
)
_FIRST = {name: names[0] for names in SAME for name in names}


def same_unit(one: str, other: str) -> bool:
    """Whether two texts name one unit, by its symbol or in words; no unit is turned into another.

    Parameters
    ----------
    one, other : str
        Such as ``N`` and ``newtons``.
    """
    return unit_key(one) == unit_key(other)


def unit_key(unit: str) -> str:
    """The sign of a unit in small letters, whichever way it is written."""
    text = " ".join(unit.casefold().split()).removesuffix(".")
    return _FIRST.get(text, text)
