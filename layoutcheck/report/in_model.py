"""What the caller's own model calls the elements that a report speaks of.

A crew finds a valve by the tag on it, and whoever works in the model by its GlobalId; here both
stand beside the id that findings and drawings use.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from layoutcheck.document.models import ELEMENT_LISTS, Layout
from layoutcheck.report.model import InModelPart, Part, Report
from layoutcheck.rules.outcome import Outcome

_OPEN = frozenset({Outcome.FAULT, Outcome.BROKEN, Outcome.UNDECIDED})
# What only stands at a junction has the junction's id; it is named by what it is.
_LAST = "junctions"


def with_names(layout: Layout, report: Report) -> Report:
    """Give a report the names of the elements that it speaks of. The same report without a model.

    Those of what is opened, of plugs and their pipes, of what is open, and of what is to be done.
    """
    if not _has_model(layout):
        return report
    told = [f for f in report.findings if f.outcome in _OPEN]
    refs = {*_opened(layout), *refs_in([*told, *report.actions, *report.plugs])}
    return report.model_copy(update={"in_model": in_model(layout, refs)})


def in_model(layout: Layout, refs: Iterable[str]) -> tuple[InModelPart, ...]:
    """Name the elements that have one of some refs, each once."""
    wanted, found = set(refs), dict[tuple[str, str], InModelPart]()
    for listed in sorted(ELEMENT_LISTS, key=lambda name: (name == _LAST, name)):
        for element in getattr(layout, listed):
            if element.ref in wanted and (element.id, element.ref) not in found:
                kind = listed.removesuffix("s")
                part = InModelPart(kind=kind, id=element.id, ref=element.ref, name=_name(element))
                found[element.id, element.ref] = part
    return tuple(found.values())


def refs_in(parts: Iterable[Part]) -> Iterator[str]:
    """Give every ref that stands in some parts of a report, but for those along ways."""
    for part in parts:
        yield from _refs(part.model_dump(mode="json", exclude={"way"}))


def opened_refs(layout: Layout) -> set[str]:
    """Give the refs of what will be opened."""
    return set(_opened(layout)) if _has_model(layout) else set()


def lines_of(parts: Iterable[InModelPart]) -> list[str]:
    """Say each in a line: 'valve V7: Absperrventil, tag 12, on Level 1; 2O2Fr$t4X7Zf8NOew3FLOH'."""
    return [f"{p.kind} {p.id}: {'; '.join(filter(None, (p.name, p.ref)))}" for p in parts]


def _has_model(layout: Layout) -> bool:
    return any(e.ref is not None for listed in ELEMENT_LISTS for e in getattr(layout, listed))


def _name(element: object) -> str:
    return getattr(element, "name", None) or ""


def _opened(layout: Layout) -> Iterator[str]:
    for item in layout.work.open if layout.work else ():
        for listed, own in (
            ("valves", item.valve),
            ("pumps", item.pump),
            ("junctions", item.junction),
            ("pipes", item.pipe),
        ):
            found = (e.ref for e in getattr(layout, listed) if e.id == own)
            yield from filter(None, found)


def _refs(data: object) -> Iterator[str]:
    if isinstance(data, dict):
        for key, value in data.items():
            if isinstance(value, str) and (key == "ref" or key.endswith("_ref")):
                yield value
            else:
                yield from _refs(value)
    elif isinstance(data, list):
        for value in data:
            yield from _refs(value)
