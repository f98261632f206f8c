"""Faults in what was given: one entry for each, all of them at once."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pydantic import BaseModel, ConfigDict, SerializerFunctionWrapHandler, model_serializer

from layoutcheck.seen import spelled_out


class Fault(BaseModel):
    """One thing that is wrong with a document, said so that a person can mend it.

    pointer: JSON Pointer (RFC 6901) to the place in the document.
    found: what stands there, shortened.
    problem: what is wrong with it, a plain sentence.
    example: a right value for the same place.
    line, column: where it was typed (from 1), where that is known.
    """

    model_config = ConfigDict(frozen=True)

    pointer: str
    found: str
    problem: str
    example: str
    line: int | None = None
    column: int | None = None

    @model_serializer(mode="wrap")
    def _without_unknown_places(self, write: SerializerFunctionWrapHandler) -> dict[str, Any]:
        made: dict[str, Any] = write(self)
        return {k: v for k, v in made.items() if v is not None}


class LayoutFaults(ValueError):
    """Raised when a document can not be used; carries every fault that was found."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        """Keep the faults in the order of their places in the document."""
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("\n".join([_counted(self.faults), *map(_told, self.faults)]))


def _counted(faults: Sequence[Fault]) -> str:
    number = "1 fault" if len(faults) == 1 else f"{len(faults)} faults"
    return f"{number} in the document"


def _told(fault: Fault) -> str:
    place = fault.pointer or "(the whole)"
    return f"{place}: {fault.problem}; found {fault.found}; right: {fault.example}"


# Faults told at once. The rest is told when these are mended; a list of a million helps nobody.
MOST_FAULTS = 1000


def at_most(faults: Sequence[Fault]) -> list[Fault]:
    """Cut an endless list of faults, and say so."""
    if len(faults) <= MOST_FAULTS:
        return list(faults)
    more = Fault(
        pointer="",
        found=f"more than {MOST_FAULTS} faults",
        problem=f"only the first {MOST_FAULTS} faults are told; mend them and try again",
        example="a document without these faults",
    )
    return [*faults[:MOST_FAULTS], more]


def as_typed(example: str) -> str:
    """Write a text as it is typed into a document, in quotes; what is in quotes already stays."""
    return example if example.startswith('"') else json.dumps(example, ensure_ascii=False)


def pointer_to(*parts: str | int) -> str:
    """Build a JSON Pointer from its parts, escaped as RFC 6901 asks; endless names are cut."""
    return "".join("/" + _step(part).replace("~", "~0").replace("/", "~1") for part in parts)


def _step(part: str | int) -> str:
    name = str(part)
    return name if len(name) <= _LONGEST_NAME else name[:_LONGEST_NAME] + "…"


# A fault is to fit on a screen, so a field's name is cut after so many characters.
_LONGEST_NAME = 100


def shown(value: object, limit: int = 80) -> str:
    """Show any given value on one line, shortened, with unseen characters spelled out."""
    raw = value[: limit + 1] if isinstance(value, str) else _written(value, limit + 1)
    spelled = spelled_out(raw)
    return spelled if len(raw) <= limit else spelled[:limit] + "…"


def _written(value: object, room: int) -> str:
    """Write any value as Python does, but no more of it than there is room for."""
    made = ""
    for piece in _pieces(value, room):
        made += piece
        if len(made) >= room:
            break
    return made[:room]


def _pieces(value: object, room: int) -> Iterator[str]:
    # Each level gives a piece before it goes deeper, so the room also bounds the depth.
    if isinstance(value, Mapping):
        yield "{"
        for number, (key, inner) in enumerate(value.items()):
            yield ", " if number else ""
            yield from _pieces(key, room)
            yield ": "
            yield from _pieces(inner, room)
        yield "}"
    elif isinstance(value, list | tuple):
        begin, end = "[]" if isinstance(value, list) else "()"
        yield begin
        for number, inner in enumerate(value):
            yield ", " if number else ""
            yield from _pieces(inner, room)
        yield end
    elif isinstance(value, str | bytes):
        yield repr(value[:room])
    elif isinstance(value, int) and value.bit_length() > room * 3:
        yield "a very long whole number"
    else:
        yield repr(value)
