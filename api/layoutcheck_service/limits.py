"""Limits on the shape of a JSON body: entries, nesting, length of texts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from layoutcheck.document import Fault
from layoutcheck.document.faults import pointer_to, shown

# More places of the same kind help nobody.
_MOST_FAULTS = 20


@dataclass(frozen=True)
class Limits:
    """What a JSON body may hold: entries of one list or object, levels, characters of one text."""

    entries: int
    nesting: int
    string: int


def faults_of_shape(data: object, limits: Limits) -> list[Fault]:
    """Find where data parsed from JSON is over a limit. An empty list: nowhere."""
    return [] if _is_within(data, limits) else _faults(data, limits)


def _is_within(data: object, limits: Limits) -> bool:
    """Tell whether nothing is over a limit: the quick look, which keeps no places.

    It goes level by level, so that no nesting is too deep for it, and looks at each value once.
    """
    level: list[object] = [data]
    for depth in range(limits.nesting + 1):
        deeper: list[object] = []
        for value in level:
            if isinstance(value, str):
                if len(value) > limits.string:
                    return False
            elif isinstance(value, dict | list):
                if depth == limits.nesting or len(value) > limits.entries:
                    return False
                deeper += value
                if isinstance(value, dict):  # its names, and now its values
                    deeper += value.values()
        if not deeper:
            break
        level = deeper
    return True


def _faults(data: object, limits: Limits) -> list[Fault]:
    faults: list[Fault] = []
    level: list[tuple[tuple[str | int, ...], object]] = [((), data)]
    for _ in range(limits.nesting):
        deeper: list[tuple[tuple[str | int, ...], object]] = []
        for place, value in level:
            if isinstance(value, str):
                faults += _of_text(place, value, limits)
            elif isinstance(value, dict | list):
                if len(value) > limits.entries:
                    faults.append(_too_many(place, value, limits))
                deeper += _inside(place, value, limits, faults)
            if len(faults) >= _MOST_FAULTS:
                return faults
        level = deeper
    for place, value in level:
        if isinstance(value, str):
            faults += _of_text(place, value, limits)
    deep = next((place for place, value in level if not isinstance(value, str)), None)
    return faults if deep is None else [*faults, _too_deep(deep, limits)]


def _of_text(place: tuple[str | int, ...], value: str, limits: Limits) -> list[Fault]:
    return [_too_long(place, value, limits)] if len(value) > limits.string else []


def _inside(
    place: tuple[str | int, ...],
    value: dict[str, object] | list[object],
    limits: Limits,
    faults: list[Fault],
) -> Iterable[tuple[tuple[str | int, ...], object]]:
    """Give the texts, lists and objects inside one; what is neither has no size."""
    pairs = enumerate(value) if isinstance(value, list) else value.items()
    found = []
    for key, inner in pairs:
        if isinstance(key, str):
            faults += _of_text(place, key, limits)
        if isinstance(inner, str | dict | list):
            found.append(((*place, key), inner))
    return found


def _too_long(place: tuple[str | int, ...], value: str, limits: Limits) -> Fault:
    return Fault(
        pointer=pointer_to(*place),
        found=shown(value),
        problem=f"is a text of {len(value)} characters; at most {limits.string} are read",
        example="a shorter text",
    )


def _too_many(
    place: tuple[str | int, ...], value: dict[str, object] | list[object], limits: Limits
) -> Fault:
    kind = "a list" if isinstance(value, list) else "an object"
    return Fault(
        pointer=pointer_to(*place),
        found=kind,
        problem=f"has {len(value)} entries; at most {limits.entries} are read",
        example="a smaller part of the site",
    )


def _too_deep(place: tuple[str | int, ...], limits: Limits) -> Fault:
    return Fault(
        pointer=pointer_to(*place[:3]),
        found="deeper nesting",
        problem=f"is nested deeper than the {limits.nesting} levels that are read",
        example="a document like the ones in fixtures/",
    )
