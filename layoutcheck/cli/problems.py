"""What can stop a command, and the exit code that each gives."""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # help and wrong calls must not wait for the models
    from layoutcheck.document.faults import Fault


class ExitCode(IntEnum):
    """The exit codes of the command line.

    The last two follow the shell: 128 and the number of the signal. They mean that the command
    was cut short and has given no answer.
    """

    COMPLIANT = 0
    BROKEN = 1
    UNUSABLE = 2
    UNDECIDED = 3
    FAULT = 4
    INTERRUPTED = 130
    READER_GONE = 141


class UnusableInput(Exception):
    """Raised when what was given can not be used.

    given: what the faults are in, for people ("layout riser.json"). faults: all of them.
    """

    def __init__(self, given: str, faults: Sequence[Fault]) -> None:
        """Keep what was given and its faults."""
        self.given = given
        self.faults = tuple(faults)
        super().__init__(given)


class WrongCall(Exception):
    """Raised when a command is called wrongly. message: one line for people."""


class ReaderGone(Exception):
    """Raised when whoever reads our output has closed it."""
