"""How invented papers describe their own conduct, in plain sentences with places."""

from __future__ import annotations

import zlib
from typing import Any

CAREFUL = {
    "registered": (
        "Yes, before the first person trained (invented register, entry {entry}; Methods, p. 3)",
        "Yes, with the outcomes as published (invented register, entry {entry}; p. 2)",
    ),
    "allocation": (
        "Sealed envelopes kept by a club secretary who took no part (Methods, p. 3)",
        "Computer list held off site, released one person at a time (Methods, p. 4)",
        "Drawn by lot in blocks of four by a person outside the study (Methods, p. 3)",
    ),
    "deviations": (
        "Everyone analysed as allocated; attendance 91 % and 89 % (Results, p. 6)",
        "Sessions watched by the same two coaches in all arms (Methods, p. 4)",
    ),
    "missing_data": (
        "All who left are listed with reasons, alike in all arms (Figure 1, p. 5)",
        "Few left, for reasons that had nothing to do with training (Figure 1, p. 4)",
    ),
    "measurement": (
        "Same device, rater and time of day; rater did not know the arm (Methods, p. 5)",
        "Two familiarisation visits; best of three tries; rater blinded (Methods, p. 4)",
    ),
    "selective_reporting": (
        "All outcomes named in the plan are in Table 2 (p. 6)",
        "The plan and the paper name the same outcomes (checked against the register entry)",
    ),
}
PATCHY = {
    "registered": ("Registered after the last visit (p. 9)", "No register entry given"),
    "allocation": (
        "Said to be random; how is not described (Methods, p. 3)",
        "Paired by strength, then a coin; who tossed it is not said (Methods, p. 4)",
    ),
    "deviations": (
        "Attendance given for the whole group only (Results, p. 5)",
        "Not described",
    ),
    "missing_data": (
        "Completers only; numbers given, reasons not (Results, p. 5)",
        "One person left out for an outlying value (Results, p. 6)",
    ),
    "measurement": (
        "Same device throughout; rater knew the arm (Methods, p. 4)",
        "Who measured is not said (Methods, p. 4)",
    ),
    "selective_reporting": (
        "No plan to compare with",
        "Muscle soreness was measured (p. 4) but not reported",
    ),
}
POOR = {
    "registered": ("No",),
    "allocation": (
        "People chose their own group by the evening they could come (Methods, p. 2)",
        "By order of arrival, known to the coaches (Methods, p. 2)",
    ),
    "deviations": ("Some changed groups and were counted where they ended (p. 5)",),
    "missing_data": ("More left one group than the other, with no word on why (p. 5)",),
    "measurement": ("Tested by the coach who led the sessions (Methods, p. 3)",),
    "selective_reporting": ("Six tests in Methods (p. 3), two in Results (p. 5)",),
}
LEVELS = {"careful": CAREFUL, "patchy": PATCHY, "poor": POOR}


def conduct_facts(study_id: str, level: str, *, blinded: bool) -> dict[str, Any]:
    """Appraisal facts for one study; the same study always gets the same sentences."""
    facts = {}
    for key, sentences in LEVELS[level].items():
        if key == "measurement" and level == "careful" and not blinded:
            sentences = PATCHY[key]
        number = zlib.crc32(f"{study_id}/{key}".encode())
        facts[key] = sentences[number % len(sentences)].format(entry=number % 9000 + 1000)
    return facts
