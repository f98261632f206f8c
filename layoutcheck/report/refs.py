"""The ids that elements have in the caller's own model, by what they are and their id here."""

from __future__ import annotations

from layoutcheck.document.models import ELEMENT_LISTS, Layout

# What a change is done to; equipment is looked for by its id alone.
DONE_TO = {
    "close valve": "valve",
    "prove valve": "valve",
    "leave valve open": "valve",
    "lock off outlet": "outlet",
    "make outlet a bleed": "outlet",
    "keep outlet open": "outlet",
    "lock off pump": "pump",
    "shut down": "equipment",
    "freeze plug": "pipe",
}
_KINDS = dict(zip(ELEMENT_LISTS, (n.removesuffix("s") for n in ELEMENT_LISTS), strict=True))


class Refs:
    """Looks up refs of one layout."""

    def __init__(self, layout: Layout) -> None:
        """Note each element that has one."""
        self._known: dict[tuple[str, str], str] = {}
        self._by_id: dict[str, set[str]] = {}
        for listed, kind in _KINDS.items():
            for element in getattr(layout, listed):
                if element.ref is None:
                    continue
                self._known[kind, element.id] = element.ref
                self._by_id.setdefault(element.id, set()).add(element.ref)
                if listed == "equipment":  # named by what it is: 'tank roof'
                    self._known[element.kind.value, element.id] = element.ref

    def ref(self, kind: str, name: str) -> str | None:
        """Give the ref of an element by its kind and id."""
        return self._known.get((kind, name)) if self._known else None

    def of(self, name: str | None) -> str | None:
        """Give the ref of an element by its id alone; none where several elements have that id."""
        found = self._by_id.get(name, set()) if name is not None else set()
        return next(iter(found)) if len(found) == 1 else None

    def done_to(self, kind: str, name: str) -> str | None:
        """Give the ref of what a change is done to."""
        return self.ref(DONE_TO[kind], name)
