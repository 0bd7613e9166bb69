"""A process that saves on command, to be killed or raced by a test; not a test itself.

Started once, it forks a child per command, so that a test of hundreds of kills pays for the
imports a single time. A line in: a function of this file with its arguments, such as ``flip
FOLDER``; several with ``|`` between them run at once. A line out when the children start, their
numbers, and one when all have ended, their statuses.
"""

from __future__ import annotations

import copy
import itertools
import os
import signal
import sys
from decimal import Decimal
from pathlib import Path

from steelyard.judging.mark import mark_reviewed
from steelyard.records.adding import add_file
from steelyard.records.drafts import keep_draft
from steelyard.records.editing import edit_record
from steelyard.records.recommendation import Told
from steelyard.records.saving import open_study, save_study
from steelyard.records.tables.reading import TableWord

QUESTION = "slow-lowering-strength"


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


def add(folder: str, table: str) -> None:
    """Add a table; a problem is an error."""
    report = add_file(folder, table)
    if report.problems:
        raise SystemExit(str(report.problems[0]))


def add_killed(folder: str, table: str, step: str, nth: str) -> None:
    """Add a table, and be killed just before the nth call of a step that touches the disk."""
    die_at("os", step, int(nth))
    add(folder, table)


def add_refused(folder: str, table: str, refused: str, step: str, nth: str) -> None:
    """Add a table; the disk refuses one rename, and the nth step after that is the last."""
    real, calls = os.replace, itertools.count(1)

    def refuse_one(*given, **named):
        if next(calls) == int(refused):
            # What was refused is counted by nobody: from here on the change is being undone.
            die_at("os", step, int(nth))
            raise OSError(5, "Input/output error", str(given[1]))
        return real(*given, **named)

    os.replace = refuse_one
    add(folder, table)


def add_refused_for_good(folder: str, table: str, refused: str) -> None:
    """Add a table; from some rename on the disk takes no more."""
    real, calls = os.replace, itertools.count(1)

    def refuse(*given, **named):
        if next(calls) >= int(refused):
            raise OSError(5, "Input/output error", str(given[1]))
        return real(*given, **named)

    os.replace = refuse
    add(folder, table)


def save_killed(folder: str, step: str, nth: str) -> None:
    """Save a new study together with a new word, and be killed likewise."""
    values = open_study(folder, "good-one").values | {"id": "third"}
    values["outcome"][0]["site"] = "calf"
    die_at("os", step, int(nth))
    save_study(folder, values, new_words=[TableWord("site", "calf", "calf", "")])


def die_at(module: str, step: str, nth: int) -> None:
    """Have this process killed in place of the nth call of a function."""
    real, calls = getattr(sys.modules[module], step), itertools.count(1)

    def counted(*given, **named):
        if next(calls) == nth:
            os.kill(os.getpid(), signal.SIGKILL)
        return real(*given, **named)

    setattr(sys.modules[module], step, counted)


def edit(folder: str, place: str, times: str) -> None:
    """Change one place of a recommendation over and over, each time to another value."""
    path = Path(folder) / "recommendations" / "lower.toml"
    for number in range(int(times)):
        edit_record(path, {place: f"{place} {number}"})


def mark(folder: str, times: str) -> None:
    """Mark the recommendation as reviewed over and over."""
    for number in range(int(times)):
        told = {QUESTION: Told(estimate=number, low=0, high=number, fingerprint="abc")}
        mark_reviewed(folder, "lower", by="Ada", note=f"note {number}", told=told)


COMMAND_FUNCTIONS = (
    *(flip, new, count, add, add_killed, add_refused, add_refused_for_good),
    *(save_killed, edit, mark),
)
COMMANDS = {each.__name__.replace("_", "-"): each for each in COMMAND_FUNCTIONS}


def main() -> None:
    for line in sys.stdin:
        children = [_forked(*command.split()) for command in line.split("|")]
        print(*children, flush=True)
        print(*(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children))
        sys.stdout.flush()


def _forked(command: str, *words: str) -> int:
    child = os.fork()
    if child == 0:
        try:
            COMMANDS[command](*words)
        except BaseException as error:
            print(error, file=sys.stderr, flush=True)
            os._exit(1)
        os._exit(0)
    return child


if __name__ == "__main__":
    main()
