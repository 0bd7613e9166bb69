"""A process that saves on command, to be killed or raced by a test; not a test itself.

Started once, it forks a child per command, so that a test of hundreds of kills pays for the
imports a single time. A line in, a line out: ``flip FOLDER`` starts a child that saves over and
over; ``new FOLDER WHO TIMES`` and ``count FOLDER TIMES`` start one that ends by itself.
"""

from __future__ import annotations

import copy
import os
import sys
from decimal import Decimal

from steelyard.records.drafts import keep_draft
from steelyard.records.saving import open_study, save_study
from steelyard.records.tables.reading import TableWord


def flip(folder: str) -> None:
    """Save the study as its other version, for ever, and a draft in between."""
    while True:
        opened = open_study(folder, "good-one")
        values = copy.deepcopy(opened.values)
        turn = values["source"]["title"] != "old"
        values["source"]["title"] = "old" if turn else "new"
        for result in values["result"]:
            result["pre"]["mean"] = Decimal("200.0" if turn else "210.00")
        keep_draft(folder, "flip", {"title": values["source"]["title"], "filler": "x" * 5_000})
        save_study(folder, values, opened=opened.mark)


def new(folder: str, who: str, times: str) -> None:
    """Save new studies, each with a word of its own."""
    values = open_study(folder, "good-one").values
    for number in range(int(times)):
        name = f"{who}-{number}"
        study = copy.deepcopy(values) | {"id": name}
        study["outcome"][0]["site"] = name
        save_study(folder, study, new_words=[TableWord("site", name, name, "")])


def count(folder: str, times: str) -> None:
    """Add one to the number randomised, each time on what then stands there."""
    for _ in range(int(times)):
        while True:
            opened = open_study(folder, "good-one")
            values = copy.deepcopy(opened.values)
            people = values.setdefault("population", {})
            people["n_randomised"] = people.get("n_randomised", 100) + 1
            if save_study(folder, values, opened=opened.mark).outcome == "saved":
                break


def main() -> None:
    for line in sys.stdin:
        command, *words = line.split()
        child = os.fork()
        if child == 0:
            try:
                {"flip": flip, "new": new, "count": count}[command](*words)
            except BaseException as error:
                print(error, file=sys.stderr, flush=True)
                os._exit(1)
            os._exit(0)
        print(child, flush=True)
        _, status = os.waitpid(child, 0)
        print(os.waitstatus_to_exitcode(status), flush=True)


if __name__ == "__main__":
    main()
