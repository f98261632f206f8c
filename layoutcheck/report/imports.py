"""The report of an import: what was read, what was assumed, what is missing, what to fill in."""

from __future__ import annotations

from layoutcheck import __version__
from layoutcheck.document import Layout, parse_layout
from layoutcheck.importers.draft import Imported, NoteKind
from layoutcheck.importers.todo import to_fill_in
from layoutcheck.report.cautions import CAUTIONS, DEFERENCE
from layoutcheck.report.model import Part
from layoutcheck.report.wrap import some_of, wrapped

IMPORT_FORMAT = "layoutcheck import 1"
_SHOWN = 4


class ImportSource(Part):
    """What was read. detail: the file's schema and units."""

    name: str
    kind: str
    detail: str


class ImportCount(Part):
    """How many elements of a class the file has, and how many of them are in the layout."""

    element: str
    found: int
    taken: int


class ImportNote(Part):
    """Something assumed, missing or left out, with the ids of the elements it concerns."""

    kind: NoteKind
    says: str
    elements: tuple[str, ...]


class ImportOrigin(Part):
    """Where the values of one field came from."""

    field: str
    origin: str
    elements: tuple[str, ...]


class ImportToFill(Part):
    """One thing to fill in by hand, in the order that gets a plan.

    field: its place in the layout, '*' for an element's id. paste: an option that states it.
    """

    what: str
    why: str
    rules: tuple[str, ...]
    elements: tuple[str, ...]
    example: str
    field: str
    paste: str


class ImportReport(Part):
    """All that is to be said of an import, beside the layout itself."""

    format: str = IMPORT_FORMAT
    version: str
    source: ImportSource
    counts: tuple[ImportCount, ...]
    made: dict[str, int]
    notes: tuple[ImportNote, ...]
    origins: tuple[ImportOrigin, ...]
    to_fill: tuple[ImportToFill, ...]
    cautions: tuple[str, ...]
    deference: str

    def to_json(self) -> str:
        """Write the report as JSON: the same bytes for the same import."""
        return self.model_dump_json(indent=2) + "\n"


def to_fill_part(layout: Layout) -> tuple[ImportToFill, ...]:
    """Write what a layout does not state, and where each fact goes."""
    return tuple(
        ImportToFill(
            what=t.what,
            why=t.why,
            rules=t.rules,
            elements=t.elements,
            example=t.example,
            field=t.field,
            paste=t.paste,
        )
        for t in to_fill_in(layout)
    )


def import_report(imported: Imported) -> ImportReport:
    """Write the report of an import. Raises LayoutFaults where the document is not valid."""
    layout = parse_layout(imported.document)
    return ImportReport(
        version=__version__,
        source=ImportSource(
            name=imported.source.name, kind=imported.source.kind, detail=imported.source.detail
        ),
        counts=tuple(
            ImportCount(element=name, found=number, taken=imported.taken.get(name, 0))
            for name, number in imported.read.items()
        ),
        made={k: len(v) for k, v in imported.document.items() if isinstance(v, list)},
        notes=tuple(
            ImportNote(kind=n.kind, says=n.says, elements=n.elements)
            for n in sorted(imported.notes, key=lambda n: list(NoteKind).index(n.kind))
        ),
        origins=tuple(
            ImportOrigin(field=o.field, origin=o.origin, elements=o.elements)
            for o in imported.origins
        ),
        to_fill=to_fill_part(layout),
        cautions=CAUTIONS,
        deference=DEFERENCE,
    )


def import_text(report: ImportReport) -> str:
    """Write the report for people."""
    source = report.source
    made = ", ".join(f"{number} {name}" for name, number in report.made.items())
    lines = [f"Read {source.name} ({source.kind}; {source.detail}): {made}.", ""]
    if report.counts:
        lines.append("IN THE FILE (taken of found)")
        lines += [f"  {c.element}: {c.taken} of {c.found}" for c in report.counts]
    heads = {
        NoteKind.ASSUMED: "ASSUMED",
        NoteKind.GAP: "MISSING OR IN DOUBT",
        NoteKind.LEFT_OUT: "LEFT OUT",
    }
    for kind, head in heads.items():
        notes = [n for n in report.notes if n.kind is kind]
        if notes:
            lines += ["", head]
        for note in notes:
            lines += _item(f"- {note.says}{_listed(note.elements)}")
    lines += ["", "WHERE VALUES CAME FROM"] if report.origins else []
    lines += [f"  {o.field}: {o.origin} ({len(o.elements)})" for o in report.origins]
    lines += ["", _what_next(report), "", report.deference]
    return "\n".join(lines) + "\n"


def explain_text(report: ImportReport) -> str:
    """Write what to fill in by hand, in the order that gets a plan."""
    lines = [f"To state after reading {report.source.name}, in the order that gets a plan:"]
    for number, item in enumerate(report.to_fill, start=1):
        head = f"{number}. {item.what}{_counted(item)}"
        why = f"{item.why} Rules: {', '.join(item.rules)}."
        lines += ["", *wrapped(head, indent="   ", first=""), *wrapped(why, indent="   ")]
        lines.append(f"   {item.paste}")
    if not report.to_fill:
        lines += ["", "Nothing: all that the rules ask for is there."]
    lines += ["", report.deference]
    return "\n".join(lines) + "\n"


def _what_next(report: ImportReport) -> str:
    if not report.to_fill:
        return "Nothing is left to fill in."
    lines = ["STILL TO STATE, in the order that gets a plan (--explain says why)"]
    lines += [f"  {item.paste}{_counted(item)}" for item in report.to_fill]
    return "\n".join(lines)


def _counted(item: ImportToFill) -> str:
    """Say how many elements lack it, where it is stated of each by itself."""
    number = len(item.elements)
    return f"  (and {number - 1} more like it)" if "*" in item.field and number > 1 else ""


def _item(text: str) -> list[str]:
    return wrapped(text, indent="    ", first="  ")


def _listed(elements: tuple[str, ...]) -> str:
    return f": {some_of(elements, _SHOWN)}" if elements else ""
