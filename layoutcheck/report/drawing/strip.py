"""One plug's pipe unrolled: straight, to scale, with everything that decides where it may stand.

A riser diagram is not to scale, and what a crew marks with a tape is. So each plug gets a strip:
the developed length through its centre, as far as the features that its distances are held
against and the place it should move to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from layoutcheck.network.stretches import TOLERANCE
from layoutcheck.placement import read_into
from layoutcheck.quantities import UnitSystem
from layoutcheck.report.drawing.facts import Facts, Reach, spare, spoken, station_of
from layoutcheck.report.drawing.items import Item, items_of
from layoutcheck.report.drawing.labels import Room, Wanted, place_labels
from layoutcheck.report.drawing.metrics import DESCENT, Box, fitted, text_box, text_width, wrapped
from layoutcheck.report.drawing.network_view import corners
from layoutcheck.report.drawing.scene import Glyph, Mark, Panel, Point, Role, Stroke, Words
from layoutcheck.report.model import Finding, PlugPart

# How far (m) a strip runs past what it must show.
_BEYOND = 0.3
_MOST_DIMENSIONS = 4


@dataclass(frozen=True)
class Part:
    """A straight part of a strip: stations of one pipe, and their distance from the plug (m).

    Distances are negative towards the 'from' end of the plug's own pipe.
    """

    pipe: str
    start: float
    end: float
    near: float
    far: float

    def distance(self, station: float) -> float:
        """Map a station onto the strip."""
        if self.end == self.start:
            return self.near
        share = (station - self.start) / (self.end - self.start)
        return self.near + share * (self.far - self.near)

    def holds(self, station: float) -> bool:
        """Tell whether a station lies on this part."""
        low, high = sorted((self.start, self.end))
        return low - 1e-9 <= station <= high + 1e-9


@dataclass(frozen=True)
class Unrolled:
    """A plug's strip: its parts in order, and how far it reaches to each side (m)."""

    parts: tuple[Part, ...]
    low: float
    high: float

    def distance(self, pipe: str, station: float) -> float | None:
        """Map a station of a pipe onto the strip; None if it is not on it."""
        for part in self.parts:
            if part.pipe == pipe and part.holds(station):
                return part.distance(station)
        return None


def unroll(facts: Facts, plug: PlugPart) -> Unrolled:
    """Choose what a plug's strip shows, and lay it out along the developed length."""
    pipe, station = plug.at.pipe or "", station_of(plug.at)
    length = facts.network.pipe_length[pipe]
    walks = [facts.walk(plug, facts.way(f)) for f in shown_lengths(facts, plug)]
    if plug.nearest is not None:
        move = plug.nearest
        half = plug.jacket.value / 2
        walks.append(_longer(facts.route(plug, move.pipe, move.tape.value), half, facts))
    own = [Reach(pipe, station, 0.0), Reach(pipe, station, length)]
    parts: list[Part] = []
    spans = []
    for sign, stub in ((-1.0, own[0]), (1.0, own[1])):
        walked = [w for w in walks if w and (w[0].end < w[0].start) == (sign < 0)]
        longest = max(walked, key=_total, default=[])
        most = max([_total(w) for w in walks] + [plug.jacket.value * 2])
        if _total(longest) < abs(stub.end - stub.start):
            rest = min(abs(stub.end - stub.start), max(most, _total(longest)) + _BEYOND)
            longest = [Reach(pipe, station, station + sign * rest)]
        parts += _laid(longest, sign)
        spans.append(_total(longest))
    return Unrolled(tuple(parts), -spans[0], spans[1])


def shown_lengths(facts: Facts, plug: PlugPart) -> list[Finding]:
    """Choose the judged lengths that a strip dimensions: what falls short, else the least spare."""
    found = [f for f in facts.governing(plug) if f.subject.kind == "plug"]
    short = [f for f in found if f in facts.pointed]
    return (short or found[:1])[:_MOST_DIMENSIONS]


def _longer(reaches: list[Reach], by: float, facts: Facts) -> list[Reach]:
    """Let a walk run on by half a jacket, within its last pipe."""
    if not reaches:
        return reaches
    last = reaches[-1]
    sign = 1.0 if last.end >= last.start else -1.0
    end = min(max(last.end + sign * by, 0.0), facts.network.pipe_length[last.pipe])
    return [*reaches[:-1], Reach(last.pipe, last.start, end)]


def _total(reaches: Sequence[Reach]) -> float:
    return sum(abs(r.end - r.start) for r in reaches)


def _laid(reaches: Sequence[Reach], sign: float) -> list[Part]:
    parts, gone = [], 0.0
    for reach in reaches:
        length = abs(reach.end - reach.start)
        if reach.pipe:
            near, far = sign * gone, sign * (gone + length)
            parts.append(Part(reach.pipe, reach.start, reach.end, near, far))
        gone += length
    return parts


@dataclass
class _Strip:
    """A strip being drawn."""

    facts: Facts
    plug: PlugPart
    unrolled: Unrolled
    frame: Box
    text: float
    room: Room
    marks: list[Mark]
    wanted: list[Wanted]

    @property
    def scale(self) -> float:
        """Give points for each metre of pipe."""
        span = self.unrolled.high - self.unrolled.low
        return (self.frame.width - 60.0) / max(span, 1e-6)

    def x(self, distance: float) -> float:
        """Map a distance along the strip onto the sheet."""
        return self.frame.left + 30.0 + (distance - self.unrolled.low) * self.scale

    @property
    def y(self) -> float:
        """Give the height of the pipe's axis on the sheet."""
        return self.frame.bottom - 5.6 * self.text

    def line(self, role: Role, x: tuple[float, float], y: float, **rest: object) -> None:
        """Draw a level line."""
        points = ((x[0], y), (x[1], y))
        self.room.draw(points)
        self.marks.append(Stroke(role=role, points=points, **rest))


def strip_height(facts: Facts, plug: PlugPart, width: float, text: float) -> float:
    """Give the height that a plug's strip takes at a width."""
    lines = len(_about(facts, plug, width, text))
    return text * (12.9 + 1.35 * lines + 1.9 * len(shown_lengths(facts, plug)))


def strip_panel(facts: Facts, plug: PlugPart, frame: Box, text: float) -> Panel:
    """Draw a plug's strip in a frame."""
    strip = _Strip(facts, plug, unroll(facts, plug), frame, text, Room(frame.grown(-2.0)), [], [])
    strip.marks.append(Stroke(role=Role.FRAME, points=corners(frame), closed=True))
    _title(strip)
    _pipe_lines(strip)
    _strip_bands(strip)
    _strip_jackets(strip)
    _strip_items(strip)
    _strip_dimensions(strip)
    placed = place_labels(strip.room, strip.wanted)
    return Panel(
        name=f"strip of plug {plug.id}",
        frame=(frame.left, frame.top, frame.right, frame.bottom),
        clip=False,
        marks=(*strip.marks, *placed.marks),
    )


def _words(strip: _Strip, text: str, x: float, y: float, **rest: object) -> None:
    role = rest.pop("role", Role.TEXT)
    anchor = str(rest.pop("anchor", "start"))
    bold = bool(rest.pop("bold", False))
    box = text_box(text, x, y, strip.text, anchor=anchor, bold=bold)
    strip.room.take(box)
    strip.marks.append(
        Words(
            role=role,
            text=text,
            at=(x, y),
            size=strip.text,
            anchor=anchor,
            bold=bold,
            box=(box.left, box.top, box.right, box.bottom),
            subject=strip.plug.id,
        )
    )


def _about(facts: Facts, plug: PlugPart, width: float, text: float) -> list[tuple[str, Role]]:
    """Say where a plug stands and where it should go, in lines that fit a width."""
    start = facts.network.pipes[plug.at.pipe or ""].tape_from
    where = f"{plug.at.station.shown if plug.at.station else ''} from {start} on {plug.at.pipe}"
    rows = [(f"{where}; {plug.size}, jacket {plug.jacket.shown}, {plug.coolant}", Role.TEXT)]
    if plug.nearest is not None:
        move = plug.nearest
        origin = facts.network.pipes[move.pipe].tape_from
        text_of_move = (
            f"Nearest place, other plugs staying: move it {move.travel.shown}, mark "
            f"{move.tape.shown} from {origin} on {move.pipe}; "
            f"{move.room.shown} of room there"
        )
        rows.append((text_of_move, Role.MOVE))
        left = sorted({r.rule for r in move.remaining})
        if left:
            rows.append((f"Even there this does not hold yet: {', '.join(left)}", Role.FINDING))
    elif plug.no_place and not plug.well_placed:
        rows.append(("While the other plugs stay, no place passes every rule", Role.FINDING))
    return [(line, role) for row, role in rows for line in wrapped(row, width - 12.0, text)]


def _title(strip: _Strip) -> None:
    """Say what the strip shows and how the plug fares."""
    plug, facts, text = strip.plug, strip.facts, strip.text
    state = "well placed" if plug.well_placed else "not well placed"
    if plug.clear_by is not None and plug.well_placed:
        state += f", clear by {plug.clear_by.shown}"
    x, y = strip.frame.left + 6.0, strip.frame.top + 1.5 * text
    role = Role.TEXT if plug.well_placed else Role.FINDING
    head = fitted(f"Plug {plug.id}: {state}", strip.frame.width - 12.0, text, bold=True)
    _words(strip, head, x, y, bold=True, role=role)
    for line, kind in _about(facts, plug, strip.frame.width, text):
        y += 1.35 * text
        _words(strip, line, x, y, role=kind)


def _pipe_lines(strip: _Strip) -> None:
    """Draw the pipe as two walls, with a mark where one pipe ends and the next begins."""
    half = 0.42 * strip.text
    for part in sorted(strip.unrolled.parts, key=lambda p: min(p.near, p.far)):
        x = strip.x(part.near), strip.x(part.far)
        start, end = part.start, part.end
        for y in (strip.y - half, strip.y + half):
            strip.line(Role.WALL, x, y, subject=part.pipe, pipe=part.pipe, start=start, end=end)
    for part in _whole_pipes(strip):
        pipe = strip.facts.network.pipes[part.pipe]
        middle = (strip.x(part.near) + strip.x(part.far)) / 2
        strip.wanted.append(
            Wanted(
                (f"{pipe.id}  {pipe.size.text}",),
                (middle, strip.y + 3.3 * strip.text),
                strip.text,
                Role.QUIET,
                2,
                0.0,
                far=True,
                subject=f"pipe {pipe.id}",
            )
        )
    for end in (strip.unrolled.low, strip.unrolled.high):
        strip.marks.append(
            Glyph(role=Role.WALL, form="cut", at=(strip.x(end), strip.y), size=0.8 * strip.text)
        )


def _whole_pipes(strip: _Strip) -> list[Part]:
    """Join the parts of each pipe, for one name each."""
    found: dict[str, Part] = {}
    for part in strip.unrolled.parts:
        known = found.get(part.pipe)
        ends = [part.near, part.far] + ([known.near, known.far] if known else [])
        found[part.pipe] = Part(part.pipe, part.start, part.end, min(ends), max(ends))
    return list(found.values())


def _strip_bands(strip: _Strip) -> None:
    """Draw where the plug's centre may stand, and where and by which rules it is shut out."""
    y = strip.y + 1.5 * strip.text
    rows = [(Role.CLEAR, s.pipe, s.start.value, s.end.value, "clear") for s in strip.plug.clear] + [
        (Role.SHUT_OUT, s.pipe, s.start.value, s.end.value, ", ".join(map(spoken, s.rules)))
        for s in strip.plug.shut_out
    ]
    for role, pipe, start, end, text in rows:
        for part in strip.unrolled.parts:
            ends = sorted((part.start, part.end))
            low, high = max(start, ends[0]), min(end, ends[1])
            if part.pipe != pipe or low >= high:
                continue
            x = sorted((strip.x(part.distance(low)), strip.x(part.distance(high))))
            strip.line(
                role,
                (x[0], x[1]),
                y,
                subject=strip.plug.id,
                pipe=pipe,
                start=low,
                end=high,
                note=text,
            )
            strip.wanted.append(
                Wanted(
                    (text,),
                    ((x[0] + x[1]) / 2, y + 0.9 * strip.text),
                    strip.text,
                    Role.CLEAR if role is Role.CLEAR else Role.SHUT_OUT,
                    1,
                    0.0,
                    subject=f"band {pipe} {low:.6f}",
                )
            )


def _strip_jackets(strip: _Strip) -> None:
    """Draw the jacket and the suggested one, each to its length, with the tape's readings."""
    plug, units = strip.plug, strip.facts.units
    role = Role.JACKET if plug.well_placed else Role.JACKET_BROKEN
    pipe, station = plug.at.pipe or "", station_of(plug.at)
    places = [(role, pipe, station, plug.id, _read(plug, pipe, station, units))]
    if plug.nearest is not None:
        on, at = plug.nearest.pipe, plug.nearest.tape.value
        places.append((Role.GHOST, on, at, f"{plug.id} moved", _read(plug, on, at, units)))
    for kind, on, at, name, reading in places:
        middle = 0.0 if kind is role else strip.unrolled.distance(on, at)
        if middle is None:
            continue
        half, tall = plug.jacket.value / 2, 0.95 * strip.text
        left, right = strip.x(middle - half), strip.x(middle + half)
        top, bottom = strip.y - tall, strip.y + tall
        points = ((left, top), (right, top), (right, bottom), (left, bottom))
        strip.marks.append(
            Stroke(
                role=kind,
                points=points,
                closed=True,
                subject=plug.id,
                pipe=on,
                start=at - half,
                end=at + half,
                note=f"jacket of plug {name}",
            )
        )
        strip.room.take(Box(left, top, right, bottom))
        origin = strip.facts.network.pipes[on].tape_from
        strip.wanted.append(
            Wanted(
                (name, f"{reading} from {origin}"),
                (strip.x(middle), strip.y - tall),
                strip.text,
                Role.MOVE if kind is Role.GHOST else Role.TEXT,
                1 if kind is Role.GHOST else 0,
                2.0,
                bold=True,
                must=True,
                far=True,
                subject=f"plug {name}",
            )
        )


def _read(plug: PlugPart, pipe: str, station: float, units: UnitSystem) -> str:
    """Read a station (m) off a tape, into the clear stretch that it lies in, if any."""
    spans = ((c.start.value, c.end.value) for c in plug.clear if c.pipe == pipe)
    around = (s for s in spans if s[0] - TOLERANCE <= station <= s[1] + TOLERANCE)
    return read_into(station, next(around, (station, station)), units).texts[0]


def _strip_items(strip: _Strip) -> None:
    """Draw what stands along the strip, each thing once."""
    seen: set[str] = set()
    for item in items_of(strip.facts):
        distance = _item_distance(strip, item)
        if distance is None or item.id in seen:
            continue
        seen.add(item.id)
        at = (strip.x(distance), strip.y)
        size = 0.75 * strip.text * item.scale
        _body(strip, item, distance)
        if item.ends:
            at = (at[0], at[1] + 1.1 * strip.text)
        _strip_symbol(strip, item, at, size)
        strip.wanted.append(
            Wanted(
                item.lines,
                at,
                strip.text,
                Role.TEXT,
                min(item.tier, 3),
                size + 1.0,
                far=True,
                subject=item.id,
            )
        )


def _strip_symbol(strip: _Strip, item: Item, at: Point, size: float) -> None:
    """Draw an element's symbol, or a mere tick where two pipes meet in line."""
    if not item.form:
        tall = 0.6 * strip.text
        points = ((at[0], at[1] - tall), (at[0], at[1] + tall))
        strip.marks.append(Stroke(role=Role.WITNESS, points=points))
        return
    strip.marks.append(
        Glyph(
            role=Role.ELEMENT,
            form=item.form,
            at=at,
            angle=90.0 if item.ends else 0.0,
            size=size,
            subject=item.id,
            note=item.note,
        )
    )
    reach = size * 0.9
    strip.room.take(Box(at[0] - reach, at[1] - reach, at[0] + reach, at[1] + reach))


def _body(strip: _Strip, item: Item, distance: float) -> None:
    """Draw a valve's body face to face, to scale: distances are held against its near face."""
    valve = strip.facts.network.valves.get(item.id)
    if valve is None or not valve.body:
        return
    half, tall = valve.body / 2, 0.7 * strip.text
    left, right = strip.x(distance - half), strip.x(distance + half)
    box = Box(left, strip.y - tall, right, strip.y + tall)
    strip.marks.append(
        Stroke(
            role=Role.ELEMENT,
            points=corners(box),
            closed=True,
            subject=item.id,
            note=f"body of valve {item.id}",
        )
    )


def _item_distance(strip: _Strip, item: Item) -> float | None:
    """Give where an element stands on the strip; None if it does not."""
    if item.pipe is not None:
        return strip.unrolled.distance(item.pipe, item.station or 0.0)
    for pipe, station in strip.facts.neighbours[item.junction or ""]:
        half = _half_body(strip, item.junction or "", pipe)
        found = strip.unrolled.distance(pipe, max(half, station - half))
        if found is not None:
            return found
    return None


def _half_body(strip: _Strip, junction: str, pipe: str) -> float:
    """Give how much of a pipe's end the body of a valve at its junction takes (m)."""
    length = strip.facts.network.pipe_length[pipe]
    for valve in strip.facts.layout.valves:
        if valve.junction == junction:
            return min(valve.body / 2, length)
    return 0.0


def _strip_dimensions(strip: _Strip) -> None:
    """Draw dimension lines over the pipe: from the jacket to each feature that decides."""
    facts, plug = strip.facts, strip.plug
    y = strip.y - 4.4 * strip.text
    for finding in shown_lengths(facts, plug):
        walk = facts.walk(plug, facts.way(finding))
        if not walk or finding.measured is None:
            continue
        sign = -1.0 if walk[0].end < walk[0].start else 1.0
        ends = strip.x(sign * face_of(facts, plug, finding)), strip.x(sign * _total(walk))
        if finding.measured.value <= 0.0:
            ends = ends[1], ends[1]  # the feature lies under the jacket: there is no length
        role = Role.DIMENSION_SHORT if spare(finding) < 0 else Role.DIMENSION
        for x in sorted(set(ends)):
            points = ((x, y - 3.0), (x, strip.y - 0.6 * strip.text))
            strip.room.draw(points)
            strip.marks.append(Stroke(role=Role.WITNESS, points=points))
        _dimension_line(strip, finding, role, ends, y)
        y -= 1.9 * strip.text


def face_of(facts: Facts, plug: PlugPart, finding: Finding) -> float:
    """Give how far (m) from the plug's centre a judged length begins."""
    from_end = facts.is_from_jacket_end(finding)
    return plug.jacket.value / 2 if from_end else 0.0


def _on_strip(strip: _Strip, finding: Finding) -> bool:
    """Tell whether the feature of a judged length is drawn on the strip, not on a branch of it."""
    walk = [r for r in strip.facts.walk(strip.plug, strip.facts.way(finding)) if r.pipe]
    return all(strip.unrolled.distance(r.pipe, (r.start + r.end) / 2) is not None for r in walk)


def _dimension_line(
    strip: _Strip, finding: Finding, role: Role, ends: tuple[float, float], y: float
) -> None:
    """Draw one dimension line with its arrowheads and its text."""
    facts = strip.facts
    measured, required = facts.pair(finding)
    note = f"{finding.rule}: {measured}, required {required}"
    strip.line(role, ends, y, subject=finding.id, note=note)
    size = min(2.8, abs(ends[1] - ends[0]) / 4)
    turns = (180.0, 0.0) if ends[0] <= ends[1] else (0.0, 180.0)
    for x, angle in zip(ends, turns, strict=True):
        strip.marks.append(Glyph(role=role, form="arrowhead", at=(x, y), angle=angle, size=size))
    tag = f"[{finding.action}] " if finding.action else ""
    text = f"{tag}{measured}, needs {required}: {spoken(finding.rule)}"
    if not _on_strip(strip, finding):
        text += ", on a branch"
    width = text_width(text, strip.text)
    left, right = strip.frame.left + 6 + width / 2, strip.frame.right - 6 - width / 2
    middle = max(min((ends[0] + ends[1]) / 2, right), left)
    kind = Role.FINDING if spare(finding) < 0 else Role.TEXT
    _words(strip, text, middle, y - DESCENT * strip.text - 1.5, anchor="middle", role=kind)
