"""A figure with its source: every number that decides something can say where it came from."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Status(StrEnum):
    """How well the source of a figure is known to this project."""

    DEFINED = "by definition"
    READ = "read"
    ABSTRACT = "abstract only"
    SECONDARY = "secondary source"
    MEMORY = "from memory"
    CALCULATED = "calculated"
    PRACTICE = "common practice, no published source"
    OWN_CHOICE = "own choice"
    NO_SOURCE = "no source"


@dataclass(frozen=True, slots=True)
class Figure:
    """One number, its SI unit, where it comes from and how far that was checked.

    Parameters:
        value: the number.
        unit: its SI unit, "1" for a pure number.
        source: the publication, or the reason for an own choice.
        status: how far the source was checked.
    """

    value: float
    unit: str
    source: str
    status: Status


def require_positive(**values: float) -> None:
    """Refuse values that must be greater than zero and finite.

    Raises:
        ValueError: names the first value at fault.
    """
    for name, value in values.items():
        if not 0.0 < value < float("inf"):
            raise ValueError(f"{name} must be positive and finite, found {value}")


def require_not_negative(**values: float) -> None:
    """Refuse values that must be zero or more and finite.

    Raises:
        ValueError: names the first value at fault.
    """
    for name, value in values.items():
        if not 0.0 <= value < float("inf"):
            raise ValueError(f"{name} must be zero or more and finite, found {value}")
