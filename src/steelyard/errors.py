"""The tree of errors.

Everything Steelyard raises on purpose descends from `SteelyardError`, so a caller at
the edge (command line, notebook) can turn any of them into one plain message.
"""

from __future__ import annotations

from dataclasses import dataclass


class SteelyardError(Exception):
    """Root of all errors raised on purpose."""


class DesignError(SteelyardError, ValueError):
    """Numbers or settings from which the asked quantity cannot be computed.

    The message gives the name, the rule and the offending value.
    """


class UsageError(SteelyardError):
    """A command or call that asks for something that does not exist."""


class NoEarlierStateError(UsageError):
    """A library whose earlier states nobody keeps: no version control, or nothing in it yet."""


class EmptyQuestionError(SteelyardError):
    """A question under which no effect can be formed; the message says why."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found in a library: where it is, which rule, how grave, in words.

    Attributes
    ----------
    file : str
        File name relative to the library.
    path : str
        Place inside the file, for example ``result[2].pre.sd``; empty for the whole file.
    severity : str
        ``fault`` (the record cannot be used), ``warning`` or ``note``.
    rule : str
        Short stable name of the rule.
    message : str
        What was found and what was expected, as a sentence.
    """

    file: str
    path: str
    severity: str
    rule: str
    message: str

    def __str__(self) -> str:
        place = f"{self.file}: {self.path}" if self.path else self.file
        return f"{self.severity}: {place}: {self.message} [{self.rule}]"


class RecordError(SteelyardError):
    """A record that cannot be used; carries every fault found in it at once."""

    def __init__(self, findings: list[Finding] | tuple[Finding, ...]):
        self.findings = tuple(findings)
        super().__init__("\n".join(str(finding) for finding in self.findings))
