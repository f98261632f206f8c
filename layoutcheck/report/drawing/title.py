"""Title block, footer, findings and cautions: the words of a drawing."""

from __future__ import annotations

from dataclasses import dataclass

from layoutcheck.quantities import show_duration
from layoutcheck.report.drawing.facts import Facts
from layoutcheck.report.drawing.metrics import Box, fitted, text_box, wrapped
from layoutcheck.report.drawing.network_view import corners
from layoutcheck.report.drawing.scene import Glyph, Mark, Panel, Point, Role, Stroke, Words
from layoutcheck.report.in_model import lines_of
from layoutcheck.report.model import Verdict
from layoutcheck.report.text_first import CAN_KILL, DO_THESE, no_places

# Names in the source model that a drawing lists; the report has all of them.
_MOST_NAMES = 24

_DIGEST = 12
_ENDLESS = 1e6  # points: a phone scrolls
_NAME_LINES, _NOTE_LINES = 2, 3

_SAYS = {
    Verdict.COMPLIANT: "COMPLIANT",
    Verdict.NOT_COMPLIANT: "NOT COMPLIANT",
    Verdict.UNDECIDED: "UNDECIDED",
    Verdict.FAULT: "FAULT IN THE CHECK",
}


@dataclass(frozen=True)
class Note:
    """A line of notes: its text, its role, and whether it is bold."""

    text: str
    role: Role = Role.TEXT
    bold: bool = False


@dataclass(frozen=True)
class Notes:
    """A headed list of notes."""

    heading: str
    lines: tuple[Note, ...]


class _Pen:
    """Writes texts one under another."""

    def __init__(self, marks: list[Mark], frame: Box) -> None:
        self.marks, self.frame = marks, frame

    def write(
        self, text: str, at: Point, size: float, *, role: Role = Role.TEXT, bold: bool = False
    ) -> None:
        self.marks.append(words_at(text, at, size, role=role, bold=bold))


def words_at(text: str, at: Point, size: float, *, role: Role, bold: bool) -> Words:
    """Make a line of text, with the box that it fills."""
    box = text_box(text, at[0], at[1], size, bold=bold)
    return Words(
        role=role,
        text=text,
        at=at,
        size=size,
        bold=bold,
        box=(box.left, box.top, box.right, box.bottom),
    )


def cautions_in_short(facts: Facts) -> str:
    """Name every caution in one line."""
    names = [c.partition(":")[0].lower() for c in facts.report.cautions]
    return f"Cautions: {', '.join(names)}. {facts.report.deference}"


def _counts(facts: Facts) -> str:
    counts = facts.report.counts
    parts = [f"{counts.broken} broken", f"{counts.undecided} not known yet"]
    if counts.fault:
        parts.append(f"{counts.fault} at fault")
    if counts.waived:
        parts.append(f"{counts.waived} waived")
    return ", ".join([*parts, f"{counts.holds} hold"])


def _identity(facts: Facts) -> list[str]:
    report = facts.report
    loosened = ", loosened" if report.pack.loosened else ""
    rows = [
        f"layout {_short(report.layout.digest)}",
        f"rules {report.pack.name} {_short(report.pack.digest)}{loosened}",
        f"layoutcheck {report.version}",
    ]
    return [*rows, f"judged on {report.judged_on}"] if report.judged_on else rows


def _short(digest: str) -> str:
    return digest.rpartition(":")[2][:_DIGEST]


def _about(facts: Facts) -> list[str]:
    rows = []
    if facts.drawn.arranged:
        how = "height follows elevation" if facts.drawn.by_height else "height says nothing"
        rows.append(f"Places on the drawing were chosen by the program; {how}.")
    elif facts.drawn.by_height:
        rows.append("Shown from the side, so that risers are seen: height is up.")
    rows.append(
        "The strips are to scale; the views are not."
        if not facts.layout.drawing.scale
        else "Developed length rules over the drawing."
    )
    if facts.layout.work is not None:
        work = facts.layout.work
        rows.append(f"Work open for {show_duration(work.duration)}.")
    return rows


def title_panel(facts: Facts, frame: Box, text: float, left_out: int, sheets: int) -> Panel:
    """Draw the title block: verdict, name, what this is, digests, cautions."""
    marks: list[Mark] = [Stroke(role=Role.FRAME, points=corners(frame), closed=True)]
    pen = _Pen(marks, frame)
    short = wrapped(cautions_in_short(facts), frame.width - 12.0, text)
    base = frame.bottom - (1.2 * len(short) + 0.3) * text
    cells = (frame.left, frame.left + 0.25 * frame.width, frame.left + 0.74 * frame.width)
    for x in cells[1:]:
        marks.append(Stroke(role=Role.FRAME, points=((x, frame.top), (x, base))))
    marks.append(Stroke(role=Role.FRAME, points=((frame.left, base), (frame.right, base))))
    x, y = cells[0] + 8.0, frame.top + 2.2 * text
    _verdict(pen, facts, (x, y), cells[1] - x - 6, text)
    x, y = cells[1] + 8.0, frame.top + 1.8 * text
    wide = cells[2] - x - 8.0
    name = wrapped(facts.layout.name, wide, text * 1.35, bold=True)
    if len(name) > _NAME_LINES:
        name = [fitted(facts.layout.name, wide, text * 1.35, bold=True)]
    for line in name:
        pen.write(line, (x, y), text * 1.35, bold=True)
        y += 1.6 * text
    note = wrapped(facts.layout.note, wide, text)
    if len(note) > _NOTE_LINES:
        note = [*note[: _NOTE_LINES - 1], fitted(note[_NOTE_LINES - 1] + " …", wide, text)]
    rows = [*note, " ".join(_about(facts))]
    for line in (r for row in rows if row for r in wrapped(row, wide, text)):
        if y < base - 2:
            pen.write(line, (x, y), text, role=Role.QUIET)
        y += 1.25 * text
    x, y = cells[2] + 8.0, frame.top + 1.6 * text
    rows = [*_identity(facts), f"sheet 1 of {sheets}"]
    if left_out:
        rows.append(f"minor names left out: {left_out}")
    for line in rows:
        pen.write(fitted(line, frame.right - x - 4, text), (x, y), text)
        y += 1.3 * text
    _in_short(pen, facts, base, text)
    return Panel(name="title block", frame=_frame(frame), clip=False, marks=tuple(marks))


def _verdict(pen: _Pen, facts: Facts, at: Point, wide: float, text: float) -> None:
    x, y = at
    size = text * 1.5
    pen.marks.append(
        Glyph(
            role=Role.VERDICT,
            form=facts.report.verdict.value,
            at=(x + 8, y - 0.35 * size),
            size=8.0,
        )
    )
    pen.write(_SAYS[facts.report.verdict], (x + 22, y), size, bold=True)
    y += 1.7 * text
    for line in wrapped(_counts(facts), wide, text):
        pen.write(line, (x, y), text)
        y += 1.3 * text


def _in_short(pen: _Pen, facts: Facts, top: float, text: float) -> None:
    """Write the cautions and who decides."""
    y = top + 1.1 * text
    for line in wrapped(cautions_in_short(facts), pen.frame.width - 12.0, text):
        pen.write(line, (pen.frame.left + 6.0, y), text)
        y += 1.2 * text


def footer_panel(facts: Facts, frame: Box, text: float, number: int, sheets: int) -> Panel:
    """Draw the foot of a further sheet: what it belongs to, and the cautions again."""
    marks: list[Mark] = [Stroke(role=Role.FRAME, points=corners(frame), closed=True)]
    pen = _Pen(marks, frame)
    # In this order, as a line may be cut short: what the sheet is comes before whose it is.
    sheet = f"sheet {number} of {sheets}"
    rows = ([sheet, _SAYS[facts.report.verdict], facts.layout.name], _identity(facts))
    for index, row in enumerate(rows):
        line = fitted(" · ".join(row), frame.width - 12, text, bold=True)
        at = frame.left + 6, frame.top + (1.3 + 1.2 * index) * text
        pen.write(line, at, text, bold=True)
    _in_short(pen, facts, frame.top + 2.8 * text, text)
    return Panel(name="footer", frame=_frame(frame), clip=False, marks=tuple(marks))


def _header_lines(facts: Facts, width: float, text: float) -> list[tuple[str, float, bool]]:
    rows = [
        (t, text * 1.15, True) for t in wrapped(facts.layout.name, width, text * 1.15, bold=True)
    ]
    for part in (
        _counts(facts),
        facts.layout.note,
        " ".join(_about(facts)),
        "; ".join(_identity(facts)),
        cautions_in_short(facts),
    ):
        rows += [(t, text, False) for t in wrapped(part, width, text) if t]
    return rows


def header_height(facts: Facts, width: float, text: float) -> float:
    """Give the height of the head of a phone's drawing."""
    rows = _header_lines(facts, width - 12.0, text)
    return 3.2 * text + sum(size * 1.32 for _, size, _ in rows) + 4.0


def header_panel(facts: Facts, frame: Box, text: float) -> Panel:
    """Draw the head of a phone's drawing: the verdict first."""
    marks: list[Mark] = [Stroke(role=Role.FRAME, points=corners(frame), closed=True)]
    pen = _Pen(marks, frame)
    x, y = frame.left + 6.0, frame.top + 2.0 * text
    size = text * 1.4
    marks.append(
        Glyph(
            role=Role.VERDICT,
            form=facts.report.verdict.value,
            at=(x + 9, y - 0.35 * size),
            size=8.5,
        )
    )
    pen.write(_SAYS[facts.report.verdict], (x + 24, y), size, bold=True)
    y += 0.5 * text
    for line, line_size, bold in _header_lines(facts, frame.width - 12.0, text):
        y += 1.32 * line_size
        pen.write(line, (x, y), line_size, bold=bold)
    return Panel(name="title block", frame=_frame(frame), clip=False, marks=tuple(marks))


def notes_of(facts: Facts, beside: tuple[str, ...]) -> list[Notes]:
    """List the notes: what to do by its numbers, labels without room, the cautions in full."""
    report = facts.report
    todo = [
        note
        for action in report.actions
        for note in (
            Note(f"{action.number}  {action.what}", Role.FINDING, bold=True),
            Note(action.why, Role.FINDING),
        )
    ]
    if stuck := no_places(report):
        todo.append(Note(stuck, bold=True))
    notes = [Notes(DO_THESE, tuple(todo))] if todo else []
    if report.in_model:
        named = tuple(Note(line) for line in lines_of(report.in_model[:_MOST_NAMES]))
        notes.append(Notes("In the model: its own names and ids", named))
    if beside:
        notes.append(Notes("Also on the drawing", tuple(Note(t) for t in beside)))
    cautions = tuple(Note(c) for c in report.cautions)
    notes.append(Notes(CAN_KILL, (*cautions, Note(report.deference, bold=True))))
    return notes


def divided(notes: Notes, width: float, text: float, tallest: float) -> list[Notes]:
    """Divide notes into parts no taller than a page has room for."""
    lines = [Note(line, note.role, note.bold) for line, note in _note_lines(notes, width, text)]
    longest = Notes(f"{notes.heading}, continued", ())
    heads = len(_heading_lines(longest, width, text))
    most = max(int((min(tallest, _ENDLESS) - 4.0) / text / 1.3 - 1 - heads), 1)
    parts = [lines[i : i + most] for i in range(0, len(lines), most)]
    return [
        Notes(notes.heading if not i else f"{notes.heading}, continued", tuple(part))
        for i, part in enumerate(parts)
    ]


def _note_lines(notes: Notes, width: float, text: float) -> list[tuple[str, Note]]:
    return [
        (line, note)
        for note in notes.lines
        for line in wrapped(note.text, width - 12.0, text, bold=note.bold)
    ]


def _heading_lines(notes: Notes, width: float, text: float) -> list[str]:
    return wrapped(notes.heading, width - 12.0, text * 1.05, bold=True)


def notes_height(notes: Notes, width: float, text: float) -> float:
    """Give the height that notes take at a width."""
    lines = len(_heading_lines(notes, width, text)) + len(_note_lines(notes, width, text))
    return text * (0.9 + 1.3 * lines) + 4.0


def notes_panel(notes: Notes, frame: Box, text: float) -> Panel:
    """Draw a headed list of notes."""
    marks: list[Mark] = [Stroke(role=Role.FRAME, points=corners(frame), closed=True)]
    pen = _Pen(marks, frame)
    y = frame.top + 0.1 * text
    for line in _heading_lines(notes, frame.width, text):
        y += 1.3 * text
        pen.write(line, (frame.left + 6.0, y), text * 1.05, role=Role.HEADING, bold=True)
    for line, note in _note_lines(notes, frame.width, text):
        y += 1.3 * text
        pen.write(line, (frame.left + 6.0, y), text, role=note.role, bold=note.bold)
    return Panel(name=notes.heading.lower(), frame=_frame(frame), clip=False, marks=tuple(marks))


def _frame(frame: Box) -> tuple[float, float, float, float]:
    return frame.left, frame.top, frame.right, frame.bottom
