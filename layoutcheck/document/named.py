"""Elements named for people and for programs at once: 'source main', and its kind and id."""

from __future__ import annotations


class Named(str):
    """An element's name as a sentence holds it; what it is, and its id, stand beside.

    Rules and ways name elements in sentences, and a program that reads a finding needs the id by
    itself: neither has to be read out of the other.

    >>> way_in = Named("source", "main")
    >>> str(way_in), way_in.kind, way_in.id
    ('source main', 'source', 'main')
    """

    __slots__ = ("id", "kind")

    kind: str
    id: str

    def __new__(cls, kind: str, name: str, *, said: str | None = None) -> Named:
        """Name an element. said: what sentences say, if not its kind and id."""
        made = super().__new__(cls, said or f"{kind} {name}")
        made.kind = kind
        made.id = name
        return made

    def __getnewargs_ex__(self) -> tuple[tuple[str, str], dict[str, str]]:
        """Give what a copy is made of."""
        return (self.kind, self.id), {"said": str(self)}
