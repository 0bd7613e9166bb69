"""Two small tables, one of each layout, that tests change a little; invented."""

from __future__ import annotations

from steelyard.records.tables import TableImport

ARMS = (
    "study,title,authors,year,randomised,arm,tags,n,outcome,construct,site,unit,week,"
    "pre_mean,pre_sd,post_mean,post_se,r,where\n"
    'Oxmere & Fell 2019,Slow lowering,"Oxmere, A.; Fell, B.",2019,yes,Added,slow lowering,18,'
    "Knee flexion,strength,hamstrings,N,12,212.0,31.5,236.40,7.9,0.87,Table 2\n"
    "Oxmere & Fell 2019,,,,,Usual,usual,19,"
    "knee flexion,,,,12,210.0,30.5,215.2,7.1,,\n"
)
COMPARISONS = (
    "study,outcome,construct,intervention,comparator,intervention_tags,comparator_tags,week,"
    "metric,effect,effect_se,effect_ci_low,effect_ci_high,n_intervention,n_comparator\n"
    "Holm 2020,1RM,strength,Slow,Usual,slow-lowering,usual,8,raw,12.1,,1.0,23.2,18,19\n"
)


def strength_table(studies: list[str], *, site: str = "hamstrings") -> str:
    """A row for each of two arms of every study."""
    header = "study,arm,tags,n,outcome,construct,site,week,post_mean,post_sd\n"
    return header + "".join(
        f"{study},Added,slow lowering,18,Knee flexion,strength,{site},12,236.40,31.5\n"
        f"{study},Usual,usual,19,Knee flexion,strength,{site},12,215.2,30.5\n"
        for study in studies
    )


def said(imported: TableImport) -> list[str]:
    return [f"{problem.path}: {problem.message}" for problem in imported.problems]


def semicolons(text: str) -> str:
    """The same table as a spreadsheet with decimal commas would save it."""
    rows = []
    for row in text.replace('"Oxmere, A.; Fell, B."', "Oxmere A and Fell B").splitlines():
        rows.append(";".join(c.replace(".", ",") if c[:1].isdigit() else c for c in row.split(",")))
    return "\n".join(rows) + "\n"
