"""One check: what it proves, where its right answer comes from, and how it came out."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum


class Status(StrEnum):
    """How the right answer is known."""

    PUBLISHED = "published"
    MEMORY = "from memory"
    BY_HAND = "derived by hand"
    SECOND_WAY = "worked out a second way"
    PINNED = "pinned from our own run"


class Outcome(StrEnum):
    """How a check came out. It is stored, never worked out from the readings."""

    RIGHT = "right"
    OFF = "off"
    FAULT = "fault"


@dataclass(frozen=True, slots=True)
class Reading:
    """One figure that was found, beside the one it should be.

    Attributes:
        what: the figure, with its unit.
        found: what this installation gives.
        expected: what is right.
        tolerance: how far apart two numbers may be, in the same unit; 0 for equal to the last bit.
    """

    what: str
    found: float | str
    expected: float | str
    tolerance: float = 0.0

    @property
    def is_right(self) -> bool:
        """Tell whether the figure is right. What is not a number never is."""
        if isinstance(self.found, str) or isinstance(self.expected, str):
            return self.found == self.expected
        return abs(self.found - self.expected) <= self.tolerance

    def told(self) -> str:
        """Say in one line what was found and what was expected."""
        if isinstance(self.found, str) or isinstance(self.expected, str):
            return f"{self.what}: found {self.found}, expected {self.expected}"
        within = f" within {self.tolerance:.3g}" if self.tolerance else " exactly"
        return f"{self.what}: found {self.found:.10g}, expected {self.expected:.10g}{within}"


def near(what: str, found: float, expected: float, *, share: float) -> Reading:
    """Make a reading that may be off by a share of what is expected."""
    return Reading(what, float(found), float(expected), abs(expected) * share)


def worst(what: str, gaps: Iterable[float], *, most: float) -> Reading:
    """Make one reading of many gaps: the largest, which may be at most so much."""
    given = [abs(float(gap)) for gap in gaps]
    largest = math.nan if any(math.isnan(g) for g in given) or not given else max(given)
    return Reading(what, largest, 0.0, most)


Reader = Callable[[], Iterable[Reading]]


@dataclass(frozen=True, slots=True)
class Check:
    """A check that can be run.

    Attributes:
        name: short and stable.
        group: the heading it stands under.
        proves: what it shows when it is right, one sentence.
        source: where the right answer comes from.
        status: how it is known.
        read: takes the readings.
    """

    name: str
    group: str
    proves: str
    source: str
    status: Status
    read: Reader

    def run(self) -> Result:
        """Run the check. Whatever it raises is a fault of the installation, and is told as one."""
        try:
            readings = tuple(self.read())
        except Exception as error:
            # The words of a foreign error may hold paths of the machine: only its kind is told.
            return Result(self, Outcome.FAULT, 0, (), f"it ended with {type(error).__name__}")
        if not readings:
            return Result(self, Outcome.FAULT, 0, (), "it found nothing to compare")
        off = tuple(r for r in readings if not r.is_right)
        return Result(self, Outcome.OFF if off else Outcome.RIGHT, len(readings), off, None)


@dataclass(frozen=True, slots=True)
class Result:
    """How a check came out.

    Attributes:
        check: the check.
        outcome: right, off or fault.
        count: figures compared.
        off: the readings that are not right.
        fault: why there are no readings, or None.
    """

    check: Check
    outcome: Outcome
    count: int
    off: tuple[Reading, ...]
    fault: str | None

    def told(self) -> list[str]:
        """Say what went wrong, a line for each; nothing when all is right."""
        return [*(r.told() for r in self.off), *([self.fault] if self.fault else [])]
