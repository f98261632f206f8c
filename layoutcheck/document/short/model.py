"""What a document comes to when it is written out, and where each part of it was typed."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

from layoutcheck.document.faults import Fault, shown
from layoutcheck.document.short.words import KINDS

# The fields of a place on a pipe, as an example gives them.
_PLACE = re.compile(r'"pipe": "([^"]+)", "station": "([^"]+)"')


@dataclass(frozen=True)
class Origin:
    """Where something of the long form was typed.

    pointer: its place in what was typed. text: what stands there, where that is a text. part: the
    part of it that says this. example: a right text for the place.
    """

    pointer: str
    text: str | None = None
    part: str | None = None
    example: str = ""


@dataclass
class LongForm:
    """A document written out.

    origins: where things were typed, by place in the long form. faults: what could not be read.
    """

    data: Any
    origins: dict[str, Origin] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def half_read(self) -> list[str]:
        """Give the places in the long form of what was typed and could not be read, or in part."""
        written = {origin.pointer: place for place, origin in reversed(self.origins.items())}
        return [written.get(fault.pointer, fault.pointer) for fault in self.faults]

    def at_typed_place(self, fault: Fault) -> Fault:
        """Give a fault of the long form as one of what was typed."""
        steps = fault.pointer.split("/")
        for count in range(len(steps), 1, -1):
            origin = self.origins.get("/".join(steps[:count]))
            if origin is not None:
                return _moved(fault, origin, "/".join(steps[count:]))
        return fault


def _moved(fault: Fault, origin: Origin, rest: str) -> Fault:
    if origin.text is None:
        pointer = f"{origin.pointer}/{rest}" if rest else origin.pointer
        return fault.model_copy(update={"pointer": pointer})
    example = origin.example
    right = fault.example.strip('"')
    place = _PLACE.fullmatch(fault.example)
    if place is not None:  # a text of what stands somewhere begins with its place
        example = "".join((f"{place[1]} at {place[2]}", *origin.text.partition(",")[1:]))
    elif origin.part and '"' not in right:
        example = _with_part(origin.text, origin.part, right)
    update = {"pointer": origin.pointer, "found": shown(origin.text), "example": f'"{example}"'}
    if fault.found == "nothing":
        update["problem"] = f"{rest.rpartition('/')[2] or 'a part'}: {fault.problem}"
    return fault.model_copy(update=update)


def _with_part(text: str, part: str, right: str) -> str:
    """Put something right in the place of the last of the parts of a text that stand by themselves.

    In 'A to B, 2 in' the part 'A' is the first word, not the A of another.
    """
    found = list(re.finditer(rf"(?<![\w.]){re.escape(part)}(?![\w.])", text))
    if not found:
        return text
    begin, end = found[-1].span()
    return text[:begin] + right + text[end:]


def fault_at(pointer: str, found: object, problem: str, name: str) -> Fault:
    """Make a fault of a text; right is a whole text for its kind of element."""
    example = f'"{example_of(name)}"'
    return Fault(pointer=pointer, found=shown(found), problem=problem, example=example)


def example_of(name: str) -> str:
    """Give a whole text for a kind of element."""
    return KINDS[name].example
