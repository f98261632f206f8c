"""Faults in what was given: one entry for each, all of them at once."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator, Mapping, Sequence

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


def pointer_to(*parts: str | int) -> str:
    """Build a JSON Pointer from its parts, escaped as RFC 6901 asks; endless names are cut."""
    return "".join("/" + _step(part).replace("~", "~0").replace("/", "~1") for part in parts)


def _step(part: str | int) -> str:
    name = str(part)
    return name if len(name) <= _LONGEST_NAME else name[:_LONGEST_NAME] + "…"


# A fault is to fit on a screen, so a field's name is cut after so many characters.
_LONGEST_NAME = 100

# Characters that would let a name reorder or hide the text round it on a screen or a sheet, or
# that no output can hold. Listed by number and not by Unicode's categories, which grow from one
# release of Python to the next: the same document must be read alike by all.
_UNSEEN = {*range(0x00, 0x20), *range(0x7F, 0xA0), 0x00AD, 0x034F, 0x061C, 0x115F, 0x1160}
_UNSEEN |= {0x17B4, 0x17B5, 0x200B, 0x200E, 0x200F, *range(0x2028, 0x202F)}
_UNSEEN |= {*range(0x2060, 0x2070), 0x2800, 0x3164, 0xFEFF, 0xFFA0}
_UNSEEN |= {*range(0xFFF0, 0xFFFC), *range(0xFDD0, 0xFDF0)}
_UNSEEN |= {*range(0x1BCA0, 0x1BCA4), *range(0x1D173, 0x1D17B), *range(0xE0000, 0xE1000)}
_UNSEEN |= {plane * 0x10000 + end for plane in range(17) for end in (0xFFFE, 0xFFFF)}
_UNSEEN |= {*range(0xD800, 0xE000)}  # halves of characters, which no output can hold
# Joiners and the marks that choose the shape of a letter are part of writing in Arabic, Persian,
# Mongolian, Chinese and the scripts of India, all of which come after this number. After any other
# letter they are only a way to make two names that look the same.
_JOINERS = {
    0x200C,
    0x200D,
    *range(0x180B, 0x1810),
    *range(0xFE00, 0xFE10),
    *range(0xE0100, 0xE01F0),
}
_FIRST_JOINED = 0x0600
_UNSEEN -= _JOINERS
# Marks in a row on one letter: more of them are drawn over the lines above and below. Written
# languages use up to four; an own choice, no published source.
_MOST_MARKS = 5


def shown(value: object, limit: int = 80) -> str:
    """Show any given value on one line, shortened, with unseen characters spelled out."""
    raw = value[: limit + 1] if isinstance(value, str) else _written(value, limit + 1)
    spelled = "".join(_spelled(c, raw[i - 1] if i else "") for i, c in enumerate(raw))
    return spelled if len(raw) <= limit else spelled[:limit] + "…"


def has_unseen(text: str) -> bool:
    """Tell whether a text holds control, direction or unseen characters, or heaps of marks."""
    if text.isascii():
        return not text.isprintable()
    marks = 0
    for before, here in zip(" " + text, text, strict=False):
        if _is_unseen(here, before):
            return True
        marks = marks + 1 if unicodedata.combining(here) else 0
        if marks > _MOST_MARKS:
            return True
    return False


def without_unseen(text: str) -> str:
    """Give a text with spaces for what can not be seen, and without heaps of marks."""
    kept, marks = [], 0
    for before, here in zip(" " + text, text, strict=False):
        marks = marks + 1 if unicodedata.combining(here) else 0
        if marks <= _MOST_MARKS:
            kept.append(" " if _is_unseen(here, before) else here)
    return "".join(kept)


def looks(text: str) -> str:
    """Give what a text looks like: two names of which this is the same can not be told apart."""
    if text.isascii():
        return " ".join(text.split())
    seen = "".join(c for c in text if ord(c) not in _JOINERS)
    return " ".join(unicodedata.normalize("NFC", seen).split())


def _is_unseen(here: str, before: str) -> bool:
    code = ord(here)
    return code in _UNSEEN or (code in _JOINERS and ord(before or " ") < _FIRST_JOINED)


def _spelled(here: str, before: str) -> str:
    if not _is_unseen(here, before):
        return here
    code = ord(here)
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


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
