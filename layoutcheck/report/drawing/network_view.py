"""One view of the piping: pipes, symbols, stretches, jackets, dimensions and their labels."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from statistics import median

from layoutcheck.report.drawing.drawn import View, along, beside, drawn_length
from layoutcheck.report.drawing.facts import Facts, Reach, station_of
from layoutcheck.report.drawing.flow import Direction
from layoutcheck.report.drawing.items import Item, items_of
from layoutcheck.report.drawing.labels import Placed, Room, Wanted, place_labels
from layoutcheck.report.drawing.metrics import Box, text_box
from layoutcheck.report.drawing.scene import Glyph, Mark, Panel, Point, Role, Stroke, Words
from layoutcheck.report.model import Finding, PlugPart

_ARROW = {
    (Direction.FORWARD, True): "flow",
    (Direction.BACKWARD, True): "flow",
    (Direction.EITHER, True): "flow either way",
    (Direction.FORWARD, False): "flow in doubt",
    (Direction.BACKWARD, False): "flow in doubt",
    (Direction.EITHER, False): "flow in doubt either way",
}
_ARROW_SHARES = (0.5, 0.35, 0.65, 0.22, 0.78)


@dataclass(frozen=True)
class Look:
    """How large things are drawn in a view, in points.

    whole: junctions are named too. brief: details are drawn elsewhere, so plugs and work get
    their names alone, without dimensions and moves.
    """

    text: float
    symbol: float
    lane: float
    jacket: float
    whole: bool = True
    brief: bool = False


@dataclass
class Canvas:
    """A view being drawn: marks by layer, labels wanted, and the room that is left."""

    facts: Facts
    view: View
    look: Look
    room: Room
    lines: list[Mark] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    over: list[Mark] = field(default_factory=list)
    wanted: list[Wanted] = field(default_factory=list)

    def stroke(self, role: Role, points: Sequence[Point], **rest: object) -> None:
        """Draw a line that labels avoid."""
        self.room.draw(points)
        self.lines.append(Stroke(role=role, points=tuple(points), **rest))

    def symbol(self, role: Role, form: str, at: Point, **rest: object) -> None:
        """Draw a symbol that labels keep off."""
        glyph = Glyph(role=role, form=form, at=at, **rest)
        self.marks.append(glyph)
        self.room.take(_glyph_box(glyph))


@dataclass(frozen=True)
class ViewDone:
    """A finished view: its panel, labels that must be written beside it, and what was shown."""

    panel: Panel
    placed: Placed
    wanted: frozenset[str]
    shown: frozenset[str]


def look_for(view: View, text: float, *, brief: bool = False) -> Look:
    """Choose sizes by how closely the pipes are drawn."""
    spans = [
        drawn_length(tuple((float(x), float(y)) for x, y in p.points)) for p in view.paths.values()
    ]
    step = median(s for s in spans if s > 0) if any(s > 0 for s in spans) else 40.0
    size = min(max(step / 6.5, 2.4), 0.8 * text)
    return Look(
        text=text,
        symbol=size,
        lane=max(size * 0.62, 2.2),
        jacket=max(size * 0.85, 3.0),
        whole=not brief,
        brief=brief,
    )


def network_view(
    facts: Facts, view: View, look: Look, heading: str, focuses: Sequence[tuple[str, Box]] = ()
) -> ViewDone:
    """Draw the network in a view. focuses: lettered boxes (sheet coordinates) drawn larger."""
    canvas = Canvas(facts, view, look, Room(view.frame.grown(-1.0)))
    _border(canvas, heading, focuses)
    _highlight(canvas)
    _obstructions(canvas)
    _pipes(canvas)
    _stretches(canvas)
    _work(canvas)
    for plug in facts.report.plugs:
        _jacket(canvas, plug)
    _symbols(canvas)
    _arrows(canvas)
    for index, plug in enumerate(facts.report.plugs):
        if not look.brief:
            _dimension(canvas, plug, index)
        _move(canvas, plug, index)
    _ways_in(canvas)
    _pipe_labels(canvas)
    wanted = [w for w in canvas.wanted if view.shows(w.anchor)]
    placed = place_labels(canvas.room, wanted)
    frame = view.frame
    panel = Panel(
        name=heading,
        frame=(frame.left, frame.top, frame.right, frame.bottom),
        clip=True,
        marks=(*canvas.lines, *canvas.marks, *placed.marks, *canvas.over),
    )
    shown = {m.subject for m in placed.marks if m.subject is not None}
    return ViewDone(
        panel,
        placed,
        frozenset(w.subject for w in wanted if w.subject is not None),
        frozenset(shown),
    )


def _border(canvas: Canvas, heading: str, focuses: Sequence[tuple[str, Box]]) -> None:
    """Draw the view's edge, its heading, and the boxes that are drawn larger elsewhere."""
    frame, size = canvas.view.frame, canvas.look.text * 1.1
    canvas.lines.append(Stroke(role=Role.FRAME, points=corners(frame.grown(-0.3)), closed=True))
    x, y = frame.left + 5.0, frame.top + 4.0 + size * 0.8
    box = text_box(heading, x, y, size, bold=True)
    canvas.room.take(box.grown(1.5))
    canvas.over.append(Stroke(role=Role.BACKING, points=corners(box.grown(1.5)), closed=True))
    canvas.over.append(
        Words(
            role=Role.HEADING,
            text=heading,
            at=(x, y),
            size=size,
            bold=True,
            box=(box.left, box.top, box.right, box.bottom),
        )
    )
    for letter, focus in focuses:
        canvas.stroke(Role.FOCUS, (*corners(focus), corners(focus)[0]), subject=letter)
        canvas.wanted.append(
            Wanted(
                (letter,),
                (focus.left, focus.top),
                canvas.look.text * 1.3,
                Role.HEADING,
                0,
                2.0,
                bold=True,
                must=True,
                far=True,
                subject=f"detail {letter}",
            )
        )


def _highlight(canvas: Canvas) -> None:
    """Draw attention to a pipe, a plug or a finding's way; elements are lit where they stand."""
    facts, lit = canvas.facts, canvas.facts.highlight
    lines = [
        _line_of(canvas, _way_of(facts, finding))
        for finding in facts.report.findings
        if finding.id == lit
    ]
    if lit is not None and lit in facts.network.pipes:
        lines.append(canvas.view.between(lit, 0.0, facts.network.pipe_length[lit]))
    for line in lines:
        if line:
            canvas.lines.append(Stroke(role=Role.HIGHLIGHT, points=line, subject=lit))
    for plug in facts.report.plugs:
        if plug.id == lit:
            at = canvas.view.at(plug.at.pipe or "", station_of(plug.at))
            size = canvas.look.jacket * 2.4
            canvas.marks.append(
                Glyph(role=Role.HIGHLIGHT, form="ring", at=at, size=size, subject=lit)
            )


def _way_of(facts: Facts, finding: Finding) -> list[Reach]:
    """Give the stretches that a finding speaks of: from its plug where it is about one."""
    way = facts.way(finding)
    for plug in facts.report.plugs:
        if finding.subject.kind == "plug" and finding.subject.id == plug.id:
            return facts.walk(plug, way)
    return facts.steps(way)


def corners(box: Box) -> tuple[Point, Point, Point, Point]:
    """Give the corners of a box, in order."""
    return (
        (box.left, box.top),
        (box.right, box.top),
        (box.right, box.bottom),
        (box.left, box.bottom),
    )


def _obstructions(canvas: Canvas) -> None:
    for name, outline in sorted(canvas.facts.drawn.outlines.items()):
        points = tuple(canvas.view.place(p) for p in outline)
        canvas.stroke(Role.OBSTRUCTION, (*points, points[0]), subject=name, note=name)
        centre = tuple(sum(c) / len(points) for c in zip(*points, strict=True))
        canvas.wanted.append(
            Wanted((name,), (centre[0], centre[1]), canvas.look.text, Role.QUIET, 5, 0.0)
        )


def _pipes(canvas: Canvas) -> None:
    """Draw each pipe in stretches: still, flowing, or flowing in doubt."""
    facts = canvas.facts
    for pipe in sorted(facts.layout.pipes, key=lambda p: p.id):
        length = facts.network.pipe_length[pipe.id]
        spans = [f for f in facts.flows if f.pipe == pipe.id]
        low, high = -pipe.from_body, length + pipe.to_body
        marks = sorted({low, high, *(s.start for s in spans), *(s.end for s in spans)})
        note = f"{pipe.id}: {pipe.size.text} {pipe.material.value}"
        for start, end in itertools.pairwise(marks) if length else [(0.0, 0.0)]:
            inside = [s for s in spans if s.start <= start and end <= s.end]
            through = canvas.view.between(pipe.id, start, end)
            role = Role.STILL
            if inside:
                role = Role.FLOWING if inside[0].certain else Role.MAY_FLOW
            canvas.stroke(
                role,
                through if length else canvas.view.whole(pipe.id),
                pipe=pipe.id,
                start=start,
                end=end,
                subject=pipe.id,
                note=note,
            )


def _stretches(canvas: Canvas) -> None:
    """Draw where each plug may stand and where it is shut out, in a lane for each plug."""
    for index, plug in enumerate(canvas.facts.report.plugs):
        side = 1 if index % 2 == 0 else -1
        offset = side * (canvas.look.jacket + canvas.look.lane * (0.6 + index // 2))
        for shut in plug.shut_out:
            _band(
                canvas,
                Role.SHUT_OUT,
                plug,
                Reach(shut.pipe, shut.start.value, shut.end.value),
                offset,
                "ruled out: " + ", ".join(shut.rules),
            )
        for clear in plug.clear:
            _band(
                canvas,
                Role.CLEAR,
                plug,
                Reach(clear.pipe, clear.start.value, clear.end.value),
                offset,
                "clear",
            )


def _band(
    canvas: Canvas, role: Role, plug: PlugPart, reach: Reach, offset: float, note: str
) -> None:
    line = beside(canvas.view.between(reach.pipe, reach.start, reach.end), offset)
    canvas.stroke(
        role,
        line,
        subject=plug.id,
        pipe=reach.pipe,
        start=reach.start,
        end=reach.end,
        note=f"plug {plug.id}: {note}",
    )


def _work(canvas: Canvas) -> None:
    layout = canvas.facts.layout
    for item in layout.work.open if layout.work else ():
        junction, pipe, station = canvas.facts.work_place(item)
        if item.pipe is not None and item.start is not None and item.end is not None:
            line = canvas.view.between(item.pipe, item.start, item.end)
            canvas.stroke(
                Role.OPENED,
                line,
                pipe=item.pipe,
                start=item.start,
                end=item.end,
                subject=item.label,
                note="opened",
            )
        at = _spot(canvas, junction, pipe, station)
        size = canvas.look.symbol * 1.9
        canvas.marks.append(
            Glyph(role=Role.WORK, form="ring", at=at, size=size, subject=item.label, note="work")
        )
        lines: tuple[str, ...] = ("Work",)
        if not canvas.look.brief:
            lines = (f"Work: {item.label}", *_see(canvas, "work", item.label))
        canvas.wanted.append(
            Wanted(
                lines,
                at,
                canvas.look.text,
                Role.WORK,
                0,
                size + 1,
                bold=True,
                must=True,
                far=True,
                subject=f"work {item.label}",
                frame=True,
            )
        )


def _see(canvas: Canvas, kind: str, subject: str) -> tuple[str, ...]:
    """Refer to what is to be done about a subject."""
    pointed = canvas.facts.pointed
    return canvas.facts.see(f for f in pointed if (f.subject.kind, f.subject.id) == (kind, subject))


def _spot(canvas: Canvas, junction: str | None, pipe: str | None, station: float | None) -> Point:
    if junction is not None:
        return canvas.view.place(canvas.facts.drawn.points[junction])
    return canvas.view.at(pipe or "", station or 0.0)


def _jacket(canvas: Canvas, plug: PlugPart) -> None:
    """Draw a jacket to its length, with its label."""
    pipe, station, half = plug.at.pipe or "", station_of(plug.at), plug.jacket.value / 2
    role = Role.JACKET if plug.well_placed else Role.JACKET_BROKEN
    _sleeve(canvas, role, plug.id, Reach(pipe, station - half, station + half))
    at = canvas.view.at(pipe, station)
    state = "well placed" if plug.well_placed else "not well placed"
    lines = [f"Plug {plug.id}" if canvas.look.brief else f"Plug {plug.id}: {state}"]
    if not canvas.look.brief:
        lines += canvas.facts.see(canvas.facts.findings_of(plug))
    canvas.wanted.append(
        Wanted(
            tuple(lines),
            at,
            canvas.look.text,
            Role.TEXT if plug.well_placed else Role.FINDING,
            0,
            canvas.look.jacket + 2,
            bold=True,
            must=True,
            far=True,
            subject=f"plug {plug.id}",
            frame=True,
        )
    )


def _sleeve(canvas: Canvas, role: Role, subject: str, reach: Reach) -> None:
    """Draw an outline round a stretch of pipe."""
    length = canvas.facts.network.pipe_length[reach.pipe]
    start, end = max(reach.start, 0.0), min(reach.end, length)
    line = canvas.view.between(reach.pipe, start, end)
    half = canvas.look.jacket
    outline = (*beside(line, half), *reversed(beside(line, -half)))
    canvas.marks.append(
        Stroke(
            role=role,
            points=outline,
            closed=True,
            subject=subject,
            pipe=reach.pipe,
            start=reach.start,
            end=reach.end,
            note=f"jacket of plug {subject}",
        )
    )
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    canvas.room.take(Box(min(xs), min(ys), max(xs), max(ys)))


def _symbols(canvas: Canvas) -> None:
    taken: dict[str, float] = {}
    facts = canvas.facts
    concerned = {c.id for f in facts.pointed for c in f.concerns}
    for item in items_of(canvas.facts):
        at, angle = _stand(canvas, item, taken)
        size = canvas.look.symbol * item.scale
        if item.form and canvas.view.shows(at):
            canvas.symbol(
                Role.ELEMENT, item.form, at, angle=angle, size=size, subject=item.id, note=item.note
            )
        if item.id == canvas.facts.highlight:
            canvas.marks.append(
                Glyph(role=Role.HIGHLIGHT, form="ring", at=at, size=size * 2.2, subject=item.id)
            )
        todo, brief = facts.done_to.get(item.id), canvas.look.brief
        named = item.id in concerned or todo is not None
        if item.tier > 4 and not (canvas.look.whole or named):
            continue
        # Named whatever else there is: what must be done, what is shut, where water comes from.
        must = named or item.id in facts.always_named
        far = must or (item.scale > 1.0 if brief else item.tier < 3)
        canvas.wanted.append(
            Wanted(
                (*item.lines, f"see {todo}") if todo else item.lines[: 1 if brief else None],
                at,
                canvas.look.text,
                Role.QUIET if item.tier > 3 else Role.TEXT,
                1 if must else item.tier,
                size * 0.9 + 1.5,
                must=must,
                far=far,
                subject=item.id,
            )
        )


def _stand(canvas: Canvas, item: Item, taken: dict[str, float]) -> tuple[Point, float]:
    """Give a symbol's place and angle; ends of pipes stand off from what is there already."""
    if item.pipe is not None:
        station = item.station or 0.0
        return _spot(canvas, None, item.pipe, station), canvas.view.angle(item.pipe, station)
    junction = item.junction or ""
    at = canvas.view.place(canvas.facts.drawn.points[junction])
    meeting = canvas.facts.neighbours[junction]
    angle = -90.0
    if meeting and (len(meeting) <= 2 or not item.ends):
        pipe, station = meeting[0]
        angle = canvas.view.angle(pipe, station) + (180.0 if station == 0.0 else 0.0)
    if item.ends and len(meeting) == 2:
        angle -= 90.0
    size = canvas.look.symbol * item.scale
    gap = taken.get(junction, 0.0)
    taken[junction] = gap + size * (1.1 if item.ends else 1.0)
    if not item.ends or not gap:
        return at, angle
    turn = math.radians(angle)
    return (at[0] + gap * math.cos(turn), at[1] + gap * math.sin(turn)), angle


def _arrows(canvas: Canvas) -> None:
    """Set one arrow on each stretch that can flow, where there is room."""
    size = canvas.look.symbol * 0.62
    for span in canvas.facts.flows:
        line = canvas.view.between(span.pipe, span.start, span.end)
        if drawn_length(line) < size * 3.5:
            continue
        role = Role.FLOW_ARROW if span.certain else Role.MAY_FLOW_ARROW
        for share in _ARROW_SHARES:
            station = span.start + share * (span.end - span.start)
            at = canvas.view.at(span.pipe, station)
            box = Box(at[0] - size, at[1] - size, at[0] + size, at[1] + size)
            if not canvas.room.is_free(box):
                continue
            angle = canvas.view.angle(span.pipe, station)
            angle += 180.0 if span.direction is Direction.BACKWARD else 0.0
            canvas.symbol(
                role,
                _ARROW[span.direction, span.certain],
                at,
                angle=angle,
                size=size,
                subject=span.pipe,
                note=_ARROW[span.direction, span.certain],
            )
            break


def _line_of(canvas: Canvas, reaches: Sequence[Reach]) -> tuple[Point, ...]:
    points: list[Point] = []
    for reach in reaches:
        if not reach.pipe:
            continue
        points += (
            canvas.view.between(reach.pipe, reach.start, reach.end)
            if (reach.start <= reach.end)
            else reversed(canvas.view.between(reach.pipe, reach.end, reach.start))
        )
    return tuple(points)


def from_face(reaches: Sequence[Reach], half: float) -> list[Reach]:
    """Leave out the first half jacket of a walk from a plug's centre."""
    rest, kept = half, []
    for reach in reaches:
        length = abs(reach.end - reach.start)
        if rest >= length:
            rest -= length
            continue
        step = math.copysign(rest, reach.end - reach.start)
        kept.append(Reach(reach.pipe, reach.start + step, reach.end))
        rest = 0.0
    return kept


def _dimension(canvas: Canvas, plug: PlugPart, index: int) -> None:
    """Draw the dimension to the feature that governs: measured and required."""
    facts = canvas.facts
    found = [f for f in facts.governing(plug) if f.subject.kind == "plug"]
    if not found:
        return
    finding = found[0]
    reaches = facts.walk(plug, facts.way(finding))
    from_end = facts.is_from_jacket_end(finding)
    reaches = from_face(reaches, plug.jacket.value / 2 if from_end else 0.0)
    line = _line_of(canvas, reaches)
    if drawn_length(line) < 1.0:
        return
    side = -1 if index % 2 == 0 else 1
    ahead = 1 if reaches[0].start <= reaches[0].end else -1
    offset = side * ahead * (canvas.look.jacket + canvas.look.lane + 3.0)
    moved = beside(line, offset)
    short = finding in facts.pointed
    role = Role.DIMENSION_SHORT if short else Role.DIMENSION
    for a, b in ((line[0], moved[0]), (line[-1], moved[-1])):
        canvas.stroke(Role.WITNESS, (a, b))
    measured, required = facts.pair(finding)
    canvas.stroke(
        role,
        moved,
        subject=finding.id,
        note=f"plug {plug.id}, {finding.rule}: {measured}, required {required}",
    )
    _heads(canvas, role, moved)
    canvas.wanted.append(
        Wanted(
            (f"{measured} (needs {required})",),
            along(moved, 0.5),
            canvas.look.text,
            Role.FINDING if short else Role.TEXT,
            0,
            2.5,
            must=True,
            far=True,
            subject=f"dimension {finding.id}",
        )
    )


def _heads(canvas: Canvas, role: Role, line: tuple[Point, ...]) -> None:
    size = min(2.6, drawn_length(line) / 4)
    for tip, tail in ((line[0], line[1]), (line[-1], line[-2])):
        angle = math.degrees(math.atan2(tip[1] - tail[1], tip[0] - tail[0]))
        canvas.marks.append(Glyph(role=role, form="arrowhead", at=tip, angle=angle, size=size))


def _move(canvas: Canvas, plug: PlugPart, index: int) -> None:
    """Draw the suggested place as a ghost, with the way to it."""
    move = plug.nearest
    if move is None:
        return
    half, tape = plug.jacket.value / 2, move.tape.value
    _sleeve(canvas, Role.GHOST, plug.id, Reach(move.pipe, tape - half, tape + half))
    if canvas.look.brief:
        return
    reaches = canvas.facts.route(plug, move.pipe, tape)
    line = _line_of(canvas, reaches)
    at = canvas.view.at(move.pipe, tape)
    if drawn_length(line) > 2.0:
        ahead = 1 if reaches[0].start <= reaches[0].end else -1
        side = (1 if index % 2 == 0 else -1) * ahead
        moved = beside(line, side * (canvas.look.jacket + canvas.look.lane * 1.4 + 4.0))
        canvas.stroke(Role.MOVE, moved, subject=plug.id, note=f"move of plug {plug.id}")
        tip, tail = moved[-1], moved[-2]
        angle = math.degrees(math.atan2(tip[1] - tail[1], tip[0] - tail[0]))
        canvas.marks.append(Glyph(role=Role.MOVE, form="arrowhead", at=tip, angle=angle, size=3.0))
    travel = move.travel.shown.partition(" (")[0]
    mark = move.tape.shown.partition(" (")[0]
    lines = (f"Plug {plug.id}: move {travel}", f"to {mark} on {move.pipe}")
    canvas.wanted.append(
        Wanted(
            lines,
            at,
            canvas.look.text,
            Role.MOVE,
            0,
            canvas.look.jacket + 2,
            must=True,
            far=True,
            subject=f"move {plug.id}",
            frame=True,
        )
    )


def _ways_in(canvas: Canvas) -> None:
    """Draw how water still reaches the work."""
    facts = canvas.facts
    for finding in facts.pointed:
        if finding.subject.kind != "work":
            continue
        line = _line_of(canvas, facts.steps(facts.way(finding)))
        if len(line) > 1:
            canvas.lines.append(
                Stroke(
                    role=Role.FINDING,
                    points=line,
                    subject=finding.id,
                    note=finding.says,
                )
            )


def _pipe_labels(canvas: Canvas) -> None:
    """Ask for each pipe's id and size, the plugs' own pipes first."""
    facts = canvas.facts
    own = {p.at.pipe for p in facts.report.plugs} | {
        p.nearest.pipe for p in facts.report.plugs if p.nearest
    }
    for pipe in sorted(facts.layout.pipes, key=lambda p: p.id):
        length = facts.network.pipe_length[pipe.id]
        line = canvas.view.between(pipe.id, 0.0, length)
        if drawn_length(line) < canvas.look.text * 1.5 and pipe.id not in own:
            continue
        for anchor in _anchors(canvas, line, wide=pipe.id in own):
            canvas.wanted.append(
                Wanted(
                    (f"{pipe.id}  {pipe.size.text}",),
                    anchor,
                    canvas.look.text,
                    Role.TEXT,
                    1 if pipe.id in own else 4,
                    2.2,
                    far=pipe.id in own,
                    subject=f"pipe {pipe.id}",
                )
            )


def _anchors(canvas: Canvas, line: tuple[Point, ...], *, wide: bool) -> Iterator[Point]:
    """Give the point that a pipe's label hangs on: the middle of what the view shows of it."""
    shares = (0.5, 0.3, 0.7, 0.15, 0.85)
    seen = [along(line, s) for s in shares]
    inside = [p for p in seen if canvas.view.shows(p)]
    if inside:
        yield inside[0]
    elif wide and seen:
        return


def _glyph_box(glyph: Glyph) -> Box:
    """Give the box that a symbol covers: square, or along the pipe where it stands upright."""
    turn = math.radians(glyph.angle)
    along_x = abs(math.cos(turn)) + 0.75 * abs(math.sin(turn))
    along_y = abs(math.sin(turn)) + 0.75 * abs(math.cos(turn))
    x, y = glyph.at
    return Box(
        x - glyph.size * along_x,
        y - glyph.size * along_y,
        x + glyph.size * along_x,
        y + glyph.size * along_y,
    )
