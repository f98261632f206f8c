"""Which ids of a document are most like a name: what was meant, where a name is misspelt."""

from __future__ import annotations

import difflib
from bisect import bisect_left
from collections import Counter
from dataclasses import dataclass
from functools import cached_property

from layoutcheck.document.faults import shown

# Likeness is looked for among so many ids on each side of where a name would stand.
_BESIDE = 100


@dataclass
class KnownIds:
    """The ids of one list."""

    ids: Counter[str]

    @cached_property
    def _ranked(self) -> list[str]:
        return sorted(self.ids)

    def near(self, value: str, most: int = 1) -> str:
        """Give the ids (so many at most) that are most like a name, best first, in quotes.

        They are looked for among those that begin much like it.
        """
        ranked = self._ranked
        if len(ranked) > 2 * _BESIDE:
            at = bisect_left(ranked, value)
            ranked = ranked[max(0, at - _BESIDE) : at + _BESIDE]
        short = value[:100]
        near = difflib.get_close_matches(short, ranked, n=most, cutoff=0.0) or ranked[:most]
        names = ", ".join(f'"{shown(name, 100)}"' for name in near)
        return names or "an id that is in the document"
