"""One numbering for all elements of a model, and the model's own words for each beside it.

Authoring programs repeat names: each pipe is called by its type. What is short and is the name of
one element alone keeps it, for that is what stands on its tag; all others are numbered in one row,
by system and position. An element has the same id in whatever lists of the layout it stands.
"""

from __future__ import annotations

from collections import Counter
from itertools import count

from layoutcheck.importers.draft import plain
from layoutcheck.importers.ifc.kinds import Role
from layoutcheck.importers.ifc.parts import Part, Read
from layoutcheck.seen import looks

_LETTERS = {
    Role.PIPE: "P",
    Role.FITTING: "F",
    Role.VALVE: "V",
    Role.PUMP: "PU",
    Role.HEATER: "H",
    Role.COOLER: "C",
    Role.TANK: "T",
    Role.TERMINAL: "O",
    Role.INLINE: "M",
}
# Names that are longer, or are made of a program's own parts, are no names to call out on a site.
_LONGEST = 24
_MADE_UP = ":"
# Heights are numbered in steps of this much (m), so that what hangs on one level stays together.
_LEVEL = 0.5


def number_parts(read: Read) -> None:
    """Give each part its id as its name; what the model calls it stays as its title."""
    found = _ids_of(read)
    for part in read.parts:
        part.title, part.name = part.name, found[part.index]


def _ids_of(read: Read) -> dict[int, str]:
    said = Counter(looks(part.name) for part in read.parts)
    found = {p.index: p.name for p in read.parts if said[looks(p.name)] == 1 and _is_name(p)}
    taken = {looks(name) for name in found.values()}
    numbers = count(1)
    for part in sorted(read.parts, key=lambda p: _place(read, p)):
        if part.index in found:
            continue
        letters = _LETTERS[part.role]
        named = (f"{letters}{number}" for number in numbers)
        found[part.index] = next(own for own in named if looks(own) not in taken)
    return found


def words_of(part: Part) -> str | None:
    """Give the model's own words for a part: its name, tag, type mark and storey."""
    words = [
        part.title if part.title not in {part.name, part.guid} else "",
        f"tag {part.tag}" if part.tag and part.tag not in part.name else "",
        f"type {part.mark}" if part.mark and part.mark != part.title else "",
        f"on {part.storey}" if part.storey else "",
    ]
    return plain(", ".join(filter(None, words)), 200) or None


def _is_name(part: Part) -> bool:
    return len(part.name) <= _LONGEST and _MADE_UP not in part.name and part.name != part.guid


def _place(read: Read, part: Part) -> tuple[object, ...]:
    spots = [at for end in part.ends if (at := read.ends[end].at) is not None]
    at = spots[0] if spots else part.at or (0.0, 0.0, 0.0)
    low = min((s[2] for s in spots), default=at[2])
    level = round(low / _LEVEL)
    return part.system, level, round(at[1], 2), round(at[0], 2), low, part.name, part.guid
