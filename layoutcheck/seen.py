"""What a text looks like: what nobody sees, what nobody can tell apart, what runs to the left.

Imports nothing of ours: the command line's help and errors must not wait for the models.
"""

from __future__ import annotations

import re
import unicodedata

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


# A run of letters that are written from right to left, with what hangs on it.
_RIGHT_TO_LEFT = re.compile(
    "[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc\U00010800-\U00010fff\U0001e800-\U0001efff]"
    r"[^\s,;:()]*"
)
# First strong isolate, pop directional isolate (Unicode Standard Annex 9, section 2.4).
ISOLATE, POP = "\u2068", "\u2069"


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


def spelled_out(text: str) -> str:
    """Give a text with what can not be seen spelled out, so that nobody is misled by it."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(_spelled(c, text[i - 1] if i else "") for i, c in enumerate(text))


def set_apart(text: str) -> str:
    """Set names in letters written from right to left apart, for people to read.

    The numbers beside them would else change places on the screen or the sheet: 'plug A: 3 m' with
    a Hebrew name would show the length before the name.
    """
    if text.isascii():
        return text
    return _RIGHT_TO_LEFT.sub(lambda run: f"{ISOLATE}{run[0]}{POP}", text)


def _is_unseen(here: str, before: str) -> bool:
    code = ord(here)
    return code in _UNSEEN or (code in _JOINERS and ord(before or " ") < _FIRST_JOINED)


def _spelled(here: str, before: str) -> str:
    if not _is_unseen(here, before):
        return here
    code = ord(here)
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"
