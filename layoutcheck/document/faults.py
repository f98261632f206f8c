"""Faults in what was given: one entry for each, all of them at once."""

from __future__ import annotations

from collections.abc import Sequence

from pydantic import BaseModel, ConfigDict


class Fault(BaseModel):
    """One thing that is wrong with a document, said so that a person can mend it.

    pointer: JSON Pointer (RFC 6901) to the place in the document.
    found: what stands there, shortened.
    problem: what is wrong with it, a plain sentence.
    example: a right value for the same place.
    """

    model_config = ConfigDict(frozen=True)

    pointer: str
    found: str
    problem: str
    example: str


class LayoutFaults(ValueError):
    """Raised when a document can not be used; carries every fault that was found."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        """Keep the faults in the order of their places in the document."""
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__(f"{len(self.faults)} fault(s) in the document")


def pointer_to(*parts: str | int) -> str:
    """Build a JSON Pointer from its parts, escaped as RFC 6901 asks."""
    return "".join("/" + str(part).replace("~", "~0").replace("/", "~1") for part in parts)


# Characters that would let a name reorder or hide the text round it on a screen or a sheet.
_UNSEEN = {*range(0x00, 0x20), *range(0x7F, 0xA0), 0x061C, 0x200E, 0x200F}
_UNSEEN |= {*range(0x2028, 0x202F), *range(0x2060, 0x206A), 0x00AD, 0x200B, 0xFEFF}
_UNSEEN |= {*range(0xD800, 0xE000)}  # halves of characters, which no output can hold


def shown(value: object, limit: int = 80) -> str:
    """Show any given value on one line, shortened, with unseen characters spelled out."""
    raw = value if isinstance(value, str) else repr(value)
    spelled = "".join(f"\\u{ord(c):04x}" if ord(c) in _UNSEEN else c for c in raw[: limit + 1])
    return spelled if len(raw) <= limit else spelled[:limit] + "…"


def has_unseen(text: str) -> bool:
    """Tell whether a text holds control or bidirectional characters."""
    return any(ord(c) in _UNSEEN for c in text)
