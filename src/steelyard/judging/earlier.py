"""An earlier state of a library, taken out of its version control into a folder of its own."""

from __future__ import annotations

import datetime as dt
import io
import re
import subprocess
import tarfile
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path

from steelyard.errors import NoEarlierStateError, UsageError
from steelyard.show import count

MOST_STATES = 200
SHORTEST_FINGERPRINT = 6
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
_FINGERPRINT = re.compile(rf"[0-9a-f]{{{SHORTEST_FINGERPRINT},12}}")


@dataclass(frozen=True, slots=True)
class State:
    """One recorded state of a library.

    Attributes
    ----------
    commit : str
        Its name in version control.
    date : date
        When it was recorded.
    """

    commit: str
    date: dt.date


def states(folder: str | Path, *parts: str) -> tuple[State, ...]:
    """Every recorded state of a library, newest first; `parts` narrows it to some subfolders.

    Raises
    ------
    NoEarlierStateError
        If the library is not under version control, or nothing of it is recorded yet.
    """
    folder = Path(folder)
    listed = _git(folder, "log", "--format=%H %cI", "--", *(parts or (".",))).decode().split("\n")
    found = tuple(
        State(line.split()[0], dt.datetime.fromisoformat(line.split()[1]).date())
        for line in listed
        if line
    )
    if not found:
        raise NoEarlierStateError(
            f"nothing of library {str(folder)!r} is recorded in version control yet, so there is "
            "no earlier state"
        )
    return found


@contextmanager
def state_folder(folder: str | Path, state: State) -> Iterator[Path]:
    """The library as it was, in a folder that goes away again."""
    folder = Path(folder)
    prefix = _git(folder, "rev-parse", "--show-prefix").decode().strip()
    top = Path(_git(folder, "rev-parse", "--show-toplevel").decode().strip())
    wanted = ["--", prefix] if prefix else []
    packed = _git(top, "archive", "--format=tar", state.commit, *wanted)
    with tempfile.TemporaryDirectory(prefix="steelyard-") as place:
        with tarfile.open(fileobj=io.BytesIO(packed)) as archive:
            members = [one for one in archive.getmembers() if one.isdir() or one.isfile()]
            archive.extractall(place, members=members, filter="data")
        yield Path(place) / prefix


def find_state(
    folder: str | Path,
    at: str,
    *,
    fingerprints: Callable[[Path], set[str]],
    known: dict[State, set[str]] | None = None,
    most: int = MOST_STATES,
    around: dt.date | None = None,
    today: dt.date | None = None,
) -> State:
    """The newest state up to a date, or one that holds a fingerprint: the newest looked at.

    Parameters
    ----------
    folder : str or Path
    at : str
        A date such as 2026-11-25, or a fingerprint of at least six digits.
    fingerprints : callable
        From a library folder to the fingerprints of its questions.
    known : dict, optional
        Fingerprints already worked out; filled further.
    most : int
        How many states to look at for a fingerprint.
    around : date, optional
        When the fingerprint was taken, if that is known: states near that day are looked at
        first, which nearly always finds it at once.
    today : date, optional

    Raises
    ------
    UsageError
        If `at` is neither, lies in the future, or no state fits; a `NoEarlierStateError` where
        no state is kept at all.
    """
    today = today or dt.date.today()
    if _DATE.fullmatch(at):
        return _by_date(folder, at, today)
    if not _FINGERPRINT.fullmatch(at):
        raise UsageError(
            f"expected a date such as 2026-11-25, or a fingerprint of {SHORTEST_FINGERPRINT} to 12 "
            f"digits 0-9 and letters a-f; found {at!r}"
        )
    known = {} if known is None else known
    recorded = _from(around, states(folder, "studies", "questions"))[:most]
    for state in recorded:
        if state not in known:
            try:
                with state_folder(folder, state) as place:
                    known[state] = fingerprints(place)
            except UsageError:  # the folder may have been no library yet
                known[state] = set()
        if any(mark.startswith(at) for mark in known[state]):
            return state
    raise UsageError(
        f"no question had fingerprint {at!r} in the {count(len(recorded), 'recorded state')} "
        "looked at"
    )


def _from(around: dt.date | None, recorded: tuple[State, ...]) -> tuple[State, ...]:
    """States from a day outward, by turns one before and one after; newest first without one."""
    if around is None:
        return recorded
    before = [state for state in recorded if state.date <= around]
    # What a review of the morning rests on may be committed in the evening, or days later.
    after = [state for state in reversed(recorded) if state.date > around]
    turns = zip_longest(before, after)
    return tuple(state for pair in turns for state in pair if state is not None)


def _by_date(folder: str | Path, at: str, today: dt.date) -> State:
    try:
        date = dt.date.fromisoformat(at)
    except ValueError as error:
        raise UsageError(f"expected a date that exists, found {at!r}") from error
    if date > today:
        raise UsageError(f"{at} is in the future: today is {today}")
    known = states(folder)
    for state in known:
        if state.date <= date:
            return state
    raise UsageError(f"the earliest recorded state is of {known[-1].date}, after {at}")


def _git(folder: Path, *words: str) -> bytes:
    command = ["git", "-c", "core.fsmonitor=false", "-C", str(folder), *words]
    try:
        done = subprocess.run(command, capture_output=True, check=False, timeout=60)
    except FileNotFoundError as error:
        raise NoEarlierStateError("an earlier state needs git, which is not installed") from error
    except subprocess.TimeoutExpired as error:
        raise UsageError("git did not answer within a minute") from error
    if done.returncode:
        said = done.stderr.decode(errors="replace").strip().split("\n")[0]
        if "not a git repository" in said:
            raise NoEarlierStateError(
                f"library {str(folder)!r} is not under version control, so an earlier state "
                "cannot be recomputed"
            )
        if "does not have any commits" in said:
            return b""
        raise UsageError(f"version control says: {said}")
    return done.stdout
