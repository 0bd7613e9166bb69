"""Overrulings that cannot take effect as written."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping

from steelyard.errors import Finding
from steelyard.judging.appraisal.rules import AppraisalRules, appraisal_rules
from steelyard.records.study import Study


def overruling_findings(
    studies: Mapping[str, Study], *, today: dt.date, rules: AppraisalRules | None = None
) -> Iterator[Finding]:
    """A warning for every overruling of an unknown domain or outcome, or with a future date."""
    domains = (rules or appraisal_rules()).domain_names()
    for study in studies.values():
        outcomes = {outcome.id for outcome in study.outcomes}
        for at, each in enumerate(study.overrulings, 1):
            place = f"appraisal_overruling[{at}]"
            problems = []
            if each.domain not in domains:
                known = ", ".join(domains)
                problem = f"expected one of {known}; found {each.domain!r}, which changes nothing"
                problems.append(("domain", "unknown-domain", problem))
            if each.outcome is not None and each.outcome not in outcomes:
                problem = f"expected the id of an outcome of this study, found {each.outcome!r}"
                problems.append(("outcome", "unknown-outcome", problem))
            if each.date > today:
                problem = f"expected a date up to today, {today}, found {each.date}"
                problems.append(("date", "date-in-the-future", problem))
            for key, rule, message in problems:
                yield Finding(
                    f"studies/{study.id}.toml", f"{place}.{key}", "warning", rule, message
                )
