"""parts-fit: fittings fit their pipes, ends stand at ends, pumps and heaters can move water."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby

import numpy as np

from layoutcheck.document.ends import pipes_at
from layoutcheck.document.models import (
    PLACE,
    Asked,
    Equipment,
    EquipmentKind,
    FittingKind,
    Junction,
    Layout,
    Outlet,
    Pipe,
    Source,
)
from layoutcheck.network.blocks import block_numbers
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case
from layoutcheck.rules.facts import Fact, meant_field
from layoutcheck.rules.outcome import Gravity, Judgement, Outcome, Severity, Subject

# How many pipes, sources and outlets each fitting joins; many write 'tee' for two in one place.
# Common practice, no published source.
_TWO = frozenset({2})
_JOINS = {
    FittingKind.TEE: frozenset({3, 4}),
    FittingKind.CROSS: frozenset({4}),
    FittingKind.ELBOW: _TWO,
    FittingKind.REDUCER: _TWO,
    FittingKind.FLANGE: _TWO,
    FittingKind.UNION: _TWO,
    FittingKind.COUPLING: _TWO,
    FittingKind.WELD: _TWO,
    FittingKind.STRAINER: _TWO,
    FittingKind.METER: _TWO,
}
# A pipe between others is asked about where it is so many times as large as the largest of them,
# or so small a part of the smallest. An own choice, no published source.
LARGER, SMALLER = 2.0, 1 / 3


class PartsFit(Rule):
    """Fittings fit the pipes they join, ends stand at ends, pumps and heaters can move water.

    Reason: A tee with two pipes, a tap in the middle of a run, or a pump that can move nothing is
        what a misspelt id looks like.
    Figure: A tee joins 3 (or is two in one place), a cross 4, others 2. A pipe between others is no
        more than twice the largest and no less than a third of the smallest, without a reducer.
    Source: common practice, no published source.
    Does not apply: To fittings of kind 'other', and to junctions of which no fitting is stated.
    Undecided: Where something does not fit. Mend it, or write "meant" with what is meant: "fitting"
        on a junction, "size" on a pipe, "place" on an outlet, source, pump, heater or cooler.
    Does not see: Slips after which everything fits.
    """

    name = "parts-fit"
    cures = frozenset()
    severity = Severity.CAUTION
    gravity = Gravity.FLOOD
    gravity_reason = "What is not drawn there may feed the work"
    reason = "What does not fit together is what a misspelt id looks like."
    as_stated = True

    def asks(self, case: Case) -> Iterator[tuple[Asked, str]]:
        """Ask of each thing that does not fit."""
        yield from ((m.of, m.word) for m in _all_misfits(case))

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each thing that does not fit."""
        found = _all_misfits(case)
        for subject, rows in groupby(found, key=lambda m: m.subject):
            yield self._judge(subject, list(rows))
        if not found:
            subject = Subject("layout", "parts")
            yield self.says(subject, Outcome.HOLDS, "all fit", "All parts fit together.")

    def _judge(self, subject: Subject, rows: list[_Misfit]) -> Judgement:
        asked = [m for m in rows if not m.meant]
        sentence = " ".join(m.says for m in asked or rows)
        if not asked:
            sentence += " The document says that this is meant."
            return self.says(subject, Outcome.HOLDS, "meant", sentence)
        words = " and ".join(dict.fromkeys(f'"{m.word}"' for m in asked))
        called = f"{subject.kind} {subject.id}"
        return self.says(
            subject,
            Outcome.UNDECIDED,
            " + ".join(dict.fromkeys(m.reason for m in asked)),
            sentence,
            missing=(Fact(f"whether {words} of {called} is meant", meant_field(subject)),),
            todo=f'Correct {called}, or write "meant": {words} on it.',
        )


@dataclass(frozen=True)
class _Misfit:
    """Something that does not fit, and the word with which the document says that it is meant."""

    of: Asked
    subject: Subject
    reason: str
    word: str
    says: str
    meant: bool


def _order(misfit: _Misfit) -> tuple[str, str, str, str]:
    return misfit.subject.kind, misfit.subject.id, misfit.reason, misfit.says


def _all_misfits(case: Case) -> list[_Misfit]:
    return case.worlds.once("misfits", lambda: sorted(_misfits(case), key=_order))


def _misfits(case: Case) -> Iterator[_Misfit]:
    joints = _Joints(case.layout)
    yield from _ends(joints)
    yield from _fittings(joints)
    yield from _sizes(joints)
    yield from _still(case)


class _Joints:
    """What meets at each junction, looked up once."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.met = pipes_at(layout)

    @cached_property
    def pipes(self) -> Mapping[str, list[Pipe]]:
        """Give the pipes at each junction."""
        found: dict[str, list[Pipe]] = defaultdict(list)
        for pipe in self.layout.pipes:
            found[pipe.from_].append(pipe)
            found[pipe.to].append(pipe)
        return found

    @cached_property
    def ends(self) -> Mapping[str, list[tuple[str, Source | Outlet | Equipment]]]:
        """Give the sources, outlets and tanks at each junction that has one."""
        found: dict[str, list[tuple[str, Source | Outlet | Equipment]]] = defaultdict(list)
        for source in self.layout.sources:
            found[source.junction].append(("source", source))
        for outlet in self.layout.outlets:
            found[outlet.junction].append(("outlet", outlet))
        for gear in self.layout.equipment:
            if gear.kind is EquipmentKind.TANK and gear.junction is not None:
                found[gear.junction].append(("equipment", gear))
        return found

    @cached_property
    def inline(self) -> Counter[str]:
        """Count the valves, pumps, heaters and coolers at each junction."""
        layout = self.layout
        stand = [*layout.valves, *layout.pumps]
        return Counter(x.junction for x in stand if x.junction is not None)


def _ends(joints: _Joints) -> Iterator[_Misfit]:
    """Find sources and outlets in a run of pipe, and those that share an end."""
    for junction, items in joints.ends.items():
        open_ones = [item.id for _, item in items if not item.means(PLACE)]
        for kind, item in items:
            meant = item.means(PLACE)
            if joints.met[junction] > 1 and kind != "equipment":
                text = f"It stands at {junction}, where {joints.met[junction]} pipes meet."
                yield _Misfit(item, Subject(kind, item.id), "in a run", PLACE, text, meant)
            others = [f"{k} {x.id}" for k, x in items if x is not item]
            if others:
                # One of them may stay as it is, once all others are meant.
                answered = meant or open_ones == [item.id]
                text = f"It shares {junction} with {', '.join(sorted(others))}."
                yield _Misfit(item, Subject(kind, item.id), "two ends", PLACE, text, answered)


def _fittings(joints: _Joints) -> Iterator[_Misfit]:
    """Find fittings that join another number of pipes, and reducers between like pipes."""
    for junction in joints.layout.junctions:
        kind = junction.fitting
        joins = _JOINS.get(kind) if kind is not None else None
        if kind is None or joins is None or not joints.met[junction.id]:
            continue
        met = joints.met[junction.id] + len(joints.ends.get(junction.id, ()))
        met += junction.goes_on is not None
        # An end with a flange or a valve on it is asked about as an end.
        if met > 1 and met not in joins:
            text = f"A {kind} joins {min(joins)}, and {met} meet here."
            yield _misfit(junction, "number", text)
        sizes = {p.size.inches if p.sized else p.id for p in joints.pipes[junction.id]}
        if kind is FittingKind.REDUCER and joints.met[junction.id] == 2 and len(sizes) == 1:
            yield _misfit(junction, "reduces nothing", "The pipes at this reducer are of one size.")


def _misfit(junction: Junction, reason: str, text: str) -> _Misfit:
    subject = Subject("junction", junction.id)
    return _Misfit(junction, subject, reason, "fitting", text, junction.means("fitting"))


def _sizes(joints: _Joints) -> Iterator[_Misfit]:
    """Find steps in size without a reducer: at a joint of two pipes, and of a pipe among others."""
    reduced = {f.pipe for f in joints.layout.fittings if f.kind is FittingKind.REDUCER}
    fitting = {j.id: j for j in joints.layout.junctions}
    for name, pipes in joints.pipes.items():
        known = all(p.sized for p in pipes)
        if not known or len(pipes) != 2 or reduced & {p.id for p in pipes} or joints.inline[name]:
            continue
        one, two = sorted(pipes, key=lambda p: p.size.inches)
        junction = fitting[name]
        free = junction.fitting in {FittingKind.REDUCER, FittingKind.OTHER, FittingKind.FLANGE}
        if one.size.inches != two.size.inches and not free:
            text = f"{two.size.text} meets {one.size.text} here without a reducer."
            yield _misfit(junction, "step in size", text)
    for pipe in joints.layout.pipes:
        ends = (pipe.from_, pipe.to)
        beside = [[p for p in joints.pipes[end] if p is not pipe] for end in ends]
        kinds = {fitting[end].fitting for end in ends}
        sized = all(p.sized for p in (pipe, *beside[0], *beside[1]))
        if not sized or not all(beside) or pipe.id in reduced or FittingKind.REDUCER in kinds:
            continue
        sizes = [p.size.inches for p in (*beside[0], *beside[1])]
        if pipe.size.inches > LARGER * max(sizes) or pipe.size.inches < SMALLER * min(sizes):
            text = f"{pipe.size.text} between pipes of {min(sizes):g} to {max(sizes):g} in."
            subject = Subject("pipe", pipe.id)
            yield _Misfit(pipe, subject, "size among others", "size", text, pipe.means("size"))


def _still(case: Case) -> Iterator[_Misfit]:
    """Find pumps, heaters and coolers through which no water can move, with every valve open."""
    network = case.network
    if not len(network.pump_pieces) and not network.heat:
        return
    moves = _moving(case)
    for index in network.pump_pieces.tolist():
        pump = network.pumps[network.pieces.elements[index]]
        if not moves[index]:
            yield _stuck("pump", pump.id, pump)
    gear = {g.id: g for g in case.layout.equipment}
    for node, names in network.heat.items():
        if not moves[network.at_node(node)].any():
            for name in names:
                yield _stuck(str(gear[name].kind), name, gear[name])


def _stuck(kind: str, name: str, item: Asked) -> _Misfit:
    text = "No water can move through it: it stands on no loop, and on no way from end to end."
    return _Misfit(item, Subject(kind, name), "moves nothing", PLACE, text, item.means(PLACE))


def _moving(case: Case) -> np.ndarray:
    """Tell for each piece whether it lies on a loop, or on a way between two ends.

    All ends are joined to one further node: a piece moves water if it shares its biconnected
    component with another edge.
    """
    network = case.network
    hub = network.node_count
    ends = np.array(sorted({*network.sources, *network.tanks, *network.outlets}), dtype=np.int64)
    to_hub = np.column_stack([ends, np.full_like(ends, hub)])
    blocks = block_numbers(hub + 1, np.concatenate([network.ends, to_hub]))
    several = np.bincount(blocks, minlength=1)[blocks] > 1
    return np.asarray(several[: len(network.ends)])
