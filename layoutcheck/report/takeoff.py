"""Quantities of a planned freeze for an estimating tool: lines with a unit and a basis each."""

from __future__ import annotations

import csv
import io
import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from pydantic import Field

from layoutcheck import __version__
from layoutcheck.document.models import Covering, Layout, Moment, OutletState, ValveState
from layoutcheck.document.tables import guarded
from layoutcheck.network import Trust
from layoutcheck.network.cut import reached
from layoutcheck.physics.coolant import Coolant
from layoutcheck.physics.schedule import StepKind
from layoutcheck.quantities import UnitSystem
from layoutcheck.report.cautions import DEFERENCE
from layoutcheck.report.containers import CONTAINER
from layoutcheck.report.model import LayoutPart, PackPart, Part, PlugPart, Report, Span, Verdict
from layoutcheck.report.sheet.before import strip_length
from layoutcheck.rules.case import Case
from layoutcheck.rules.pack import Pack
from layoutcheck.rules.registry import default_pack

# Exact by definition: the international pound and foot, and the US gallon of 231 in3 (NIST SP 811).
_POUND, _FOOT, _GALLON = 0.45359237, 0.3048, 3.785411784e-3
_HOUR = 3600.0
# One verdict on each line, since lines are copied without their head.
COLUMNS = (
    "code",
    "item",
    "detail",
    "quantity",
    "low",
    "high",
    "unit",
    "basis",
    "verdict",
    "layout",
)

Unit = Literal["each", "lb", "kg", "ft", "m", "h", "US gal", "L"]


class Code(StrEnum):
    """What a line is, in a word that stays: price lists and tools hang on it."""

    JACKET = "jacket"
    COOLANT_ON_SITE = "coolant-on-site"
    COOLANT_USED = "coolant-used"
    CONTAINER = "container"
    NOZZLE = "nozzle"
    LABOUR_WORK = "labour-work"
    HOURS_FREEZE = "hours-freeze"
    LABOUR_FREEZE = "labour-freeze"
    LABOUR_HOLD = "labour-hold"
    LABOUR_THAW = "labour-thaw"
    STRIP = "insulation-strip"
    VALVE_PROVEN = "valve-proven"
    MACHINE_LOCKED = "machine-locked"
    DRAIN_MANNED = "drain-manned"
    OUTLET_DRY = "outlet-dry"
    OUTLET_SHUT = "outlet-shut"
    WATER_DRAINED = "water-drained"


class TakeoffLine(Part):
    """One line of quantities."""

    code: Code = Field(description="What the line is; it stays the same in every version.")
    item: str = Field(description="The same for people.", examples=["cylinder"])
    detail: str = Field(description="Which ones.", examples=["plugs F1, F2, as marked"])
    quantity: float = Field(description="How much (in `unit`).", examples=[14.0])
    low: float = Field(
        description="The least it may come to (in `unit`); the quantity where it is counted.",
        examples=[12.0],
    )
    high: float = Field(
        description="The most it may come to (in `unit`); the quantity where it is counted.",
        examples=[14.0],
    )
    unit: Unit = Field(description="The unit of the numbers.")
    basis: str = Field(
        description="Where the quantity comes from, so that it can be argued with.",
        examples=["high end of the estimate with reserve, F1, F2"],
    )


class Takeoff(Part):
    """The quantities of one layout. A verdict other than compliant: nothing here may be built on.

    missing: what could not be counted, and for want of what.
    """

    format: Literal["layoutcheck takeoff 1"] = "layoutcheck takeoff 1"
    version: str
    verdict: Verdict
    layout: LayoutPart
    pack: PackPart
    units: str
    lines: tuple[TakeoffLine, ...]
    missing: tuple[str, ...] = Field(description="What could not be counted, and why.")
    cautions: tuple[str, ...]
    deference: str

    def to_json(self) -> str:
        """Write the quantities as JSON: the same bytes for the same layout."""
        return self.model_dump_json(indent=2) + "\n"

    def to_csv(self) -> bytes:
        """Write the quantities as CSV (RFC 4180, UTF-8 with its mark).

        The verdict stands on each line, since lines are copied without their head.
        """
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\r\n")
        writer.writerow(COLUMNS)
        for row in self.rows():
            writer.writerow(f"{x:g}" if isinstance(x, float) else x for x in row)
        return out.getvalue().encode("utf-8-sig")

    def to_xlsx(self) -> bytes:
        """Write the quantities as a workbook: the same bytes for the same layout."""
        from layoutcheck.report.workbook import workbook  # noqa: PLC0415 - an optional extra

        told = (*self.missing, *self.cautions, self.deference)
        return workbook("take-off", COLUMNS, self.rows(), told)

    def rows(self) -> Iterator[tuple[str | float, ...]]:
        """Give a row of `COLUMNS` for each line; no text in it is taken for a formula."""
        for line in self.lines:
            yield (
                line.code.value,
                guarded(line.item),
                guarded(line.detail),
                line.quantity,
                line.low,
                line.high,
                line.unit,
                guarded(line.basis),
                self.verdict.value,
                self.layout.digest[:19],
            )


def takeoff_of(layout: Layout, report: Report, *, pack: Pack | None = None) -> Takeoff:
    """Count what a planned freeze takes. report: that of the same layout, with the same pack."""
    counter = _Counter(Case.of(layout, pack or default_pack()), report)
    lines = tuple(counter.lines())
    return Takeoff(
        version=__version__,
        verdict=report.verdict,
        layout=report.layout,
        pack=report.pack,
        units=report.units,
        lines=lines,
        missing=tuple(dict.fromkeys(counter.missing)),
        cautions=report.cautions,
        deference=DEFERENCE,
    )


class _Counter:
    """Counts the lines of one case."""

    def __init__(self, case: Case, report: Report) -> None:
        self.case = case
        self.report = report
        self.imperial = case.layout.units is UnitSystem.IMPERIAL
        self.missing: list[str] = []

    def lines(self) -> Iterator[TakeoffLine]:
        """Give the lines, in the order in which a job is priced."""
        yield from self._jackets()
        yield from self._coolant()
        yield from self._hours()
        yield from self._strip()
        yield from self._valves_and_locks()
        yield from self._outlets()
        yield from self._drained()

    def mass(self, code: Code, named: tuple[str, str], basis: str, span: _Range) -> TakeoffLine:
        """Write a mass (kg), rounded up: to three digits or so an estimate means anything."""
        scaled = span.scaled(1 / _POUND if self.imperial else 1.0, 1)
        return _line(code, *named, scaled, "lb" if self.imperial else "kg", basis)

    def length(self, code: Code, named: tuple[str, str], metres: float, basis: str) -> TakeoffLine:
        """Write a length."""
        scaled = _Range.exact(metres).scaled(1 / _FOOT if self.imperial else 1.0, 2)
        return _line(code, *named, scaled, "ft" if self.imperial else "m", basis)

    def _jackets(self) -> Iterator[TakeoffLine]:
        groups: dict[tuple[str, str], list[str]] = defaultdict(list)
        for plug in self.report.plugs:
            groups[plug.size, plug.jacket.shown].append(plug.id)
        for (size, long), plugs in sorted(groups.items()):
            told = f"plugs {', '.join(plugs)}, as marked"
            yield _count(Code.JACKET, "jacket", f"{size}, {long} long", len(plugs), told)

    def _coolant(self) -> Iterator[TakeoffLine]:
        groups: dict[str, list[PlugPart]] = defaultdict(list)
        for plug in self.report.plugs:
            if plug.freeze.coolant is None:
                self.missing.append(
                    f"coolant and hours of plug {plug.id}: "
                    f"{', '.join(plug.freeze.missing) or plug.freeze.reason}"
                )
            else:
                groups[plug.coolant].append(plug)
        for coolant, plugs in sorted(groups.items()):
            parts = [p.freeze.coolant for p in plugs if p.freeze.coolant is not None]
            low, likely, high = _ends([p.total for p in parts])
            most = math.fsum(p.on_hand.value for p in parts)
            ids = ", ".join(p.id for p in plugs)
            yield self.mass(
                Code.COOLANT_ON_SITE,
                (coolant, "to have on site"),
                f"high end of the estimate with reserve, {ids}",
                _Range(most, low, max(most, high)),
            )
            yield self.mass(
                Code.COOLANT_USED,
                (coolant, "likely use"),
                f"likely end with reserve, {ids}",
                _Range(likely, low, high),
            )
            yield _count(
                Code.CONTAINER,
                CONTAINER[Coolant(coolant)],
                f"{coolant}, {parts[0].cylinder.shown}",
                sum(p.cylinders for p in parts),
                "usable liquid at the stated storage temperature, counted plug by plug",
            )
            nozzles = sum(p.nozzles for p in parts)
            told = "all plugs frozen together"
            yield _count(Code.NOZZLE, "nozzle with hose", coolant, nozzles, told)

    def _hours(self) -> Iterator[TakeoffLine]:
        work = self.case.layout.work
        timed = [p for p in self.report.plugs if p.freeze.due is not None]
        if work is not None:
            told = "work on the open line", "whole crew"
            yield _hours(Code.LABOUR_WORK, told, "as stated", _Range.exact(work.duration))
        if timed and len(timed) == len(self.report.plugs):
            yield from self._watched(timed)
            yield from self._thawed(timed)

    def _watched(self, plugs: Sequence[PlugPart]) -> Iterator[TakeoffLine]:
        """Count hours until the plugs are due, and those of the people who stand by them."""
        due = [p.freeze.due.value for p in plugs if p.freeze.due is not None]
        soonest = [p.freeze.time_to_plug.low.value for p in plugs if p.freeze.time_to_plug]
        soonest = soonest if len(soonest) == len(due) else due
        ends = [_hold_ends(p) for p in plugs]
        yield _hours(
            Code.HOURS_FREEZE,
            ("freeze", "first injection until the last plug is due"),
            "high end of the estimate",
            _Range(max(due), max(soonest), max(due)),
        )
        each = "person-hours, one person for each plug"
        yield _hours(
            Code.LABOUR_FREEZE,
            ("plug watch while freezing", each),
            "first injection until the plug is due; common practice, no published source",
            _Range(math.fsum(due), math.fsum(soonest), math.fsum(due)),
        )
        if all(ends):
            held = math.fsum(ends) - math.fsum(due)
            yield _hours(
                Code.LABOUR_HOLD,
                ("plug watch while held", each),
                "from the plug being due until its hold ends; common practice, no published source",
                _Range.exact(held),
            )

    def _thawed(self, plugs: Sequence[PlugPart]) -> Iterator[TakeoffLine]:
        thaws = [p.freeze.time_to_thaw for p in plugs if p.freeze.time_to_thaw]
        if not thaws:
            return
        likely = max(t.likely.value for t in thaws)
        yield _hours(
            Code.LABOUR_THAW,
            ("thaw", "by itself, attended, likely"),
            "estimate for the slowest plug; may take twice as long",
            _Range(likely, max(t.low.value for t in thaws), max(t.high.value for t in thaws)),
        )

    def _strip(self) -> Iterator[TakeoffLine]:
        totals: dict[str, list[float]] = defaultdict(list)
        for plug in self.case.plugs:
            covering = self.case.pipe_of(plug).covering
            if covering is Covering.BARE:
                continue
            how = "as stated" if covering is not None else "covering not stated"
            totals[how].append(strip_length(self.case, plug))
        for how, lengths in sorted(totals.items()):
            yield self.length(
                Code.STRIP,
                ("insulation to strip", how),
                math.fsum(lengths),
                "jackets and the straight margin at each end",
            )

    def _valves_and_locks(self) -> Iterator[TakeoffLine]:
        layout = self.case.layout
        shut = [v.id for v in layout.valves if v.at(Moment.WORKING) is ValveState.CLOSED]
        locked = [m.id for m in (*layout.pumps, *layout.equipment) if m.is_locked(Moment.WORKING)]
        bleeds = [o.id for o in layout.outlets if o.at(Moment.FREEZING) is OutletState.BLEED]
        for code, item, names in (
            (Code.VALVE_PROVEN, "valve to shut and prove", shut),
            (Code.MACHINE_LOCKED, "machine to lock off", locked),
            (Code.DRAIN_MANNED, "bleed with hose, attended", bleeds),
        ):
            if names:
                told = ", ".join(sorted(names))
                yield _count(code, item, told, len(names), "as stated in the layout")

    def _outlets(self) -> Iterator[TakeoffLine]:
        shut = [
            o.id
            for o in self.case.layout.outlets
            if o.at(Moment.WORKING) not in {None, OutletState.MAY_DRAW, OutletState.LEAKING}
        ]
        for code, item, names, basis in (
            (
                Code.OUTLET_DRY,
                "outlet out of service",
                out_of_service(self.case),
                "no way from a source or tank while the line is open",
            ),
            (
                Code.OUTLET_SHUT,
                "outlet shut, bled or drained",
                tuple(sorted(shut)),
                "as stated for the work",
            ),
        ):
            if names:
                yield _count(code, item, ", ".join(names), len(names), basis)

    def _drained(self) -> Iterator[TakeoffLine]:
        drain = self.report.drain
        if drain is None:
            return
        if drain.volume is None:
            self.missing.append(f"water drained: {', '.join(drain.missing[:12])}")
            return
        each = _GALLON if self.imperial else 1e-3
        unit: Unit = "US gal" if self.imperial else "L"
        yield _line(
            Code.WATER_DRAINED,
            "water drained",
            "at the work",
            _Range.exact(drain.volume.value).scaled(1 / each, 2),
            unit,
            "what stands above the lowest opening",
        )


def out_of_service(case: Case) -> tuple[str, ...]:
    """Name the outlets in use that no water can reach while the line is open."""
    network, world = case.network, case.worlds.working(Trust.STATED)
    feeds = [n for group in (network.sources, network.tanks) for n, names in group.items() if names]
    plugged = sorted({p.spot.piece for p in case.plugs})
    wet = reached(world, plugged, feeds) if feeds else None
    states = {o.id: o.at(Moment.WORKING) for o in case.layout.outlets}
    names = {
        name
        for node, listed in network.outlets.items()
        for name in listed
        if states[name] in {None, OutletState.MAY_DRAW} and (wet is None or not wet[node])
    }
    return tuple(sorted(names))


def _hold_ends(plug: PlugPart) -> float:
    """Give when a plug's hold ends (s); 0 where it has no schedule."""
    steps = plug.freeze.coolant.steps if plug.freeze.coolant is not None else ()
    return math.fsum(s.start.value for s in steps if s.kind == StepKind.HOLD_ENDS.value)


def _ends(spans: Sequence[Span]) -> tuple[float, float, float]:
    """Add up estimates: the low, the likely and the high ends."""
    low = math.fsum(s.low.value for s in spans)
    likely = math.fsum(s.likely.value for s in spans)
    return low, likely, math.fsum(s.high.value for s in spans)


@dataclass(frozen=True)
class _Range:
    """A number with the least and the most that it may be."""

    value: float
    low: float
    high: float

    @classmethod
    def exact(cls, value: float) -> _Range:
        """Give what is counted or stated: no range."""
        return cls(value, value, value)

    def scaled(self, factor: float, decimals: int) -> _Range:
        """Give it in another unit, rounded up."""
        return _Range(*(_up(x * factor, decimals) for x in (self.value, self.low, self.high)))


def _line(code: Code, item: str, detail: str, span: _Range, unit: Unit, basis: str) -> TakeoffLine:
    return TakeoffLine(
        code=code,
        item=item,
        detail=detail,
        quantity=span.value,
        low=span.low,
        high=span.high,
        unit=unit,
        basis=basis,
    )


def _count(code: Code, item: str, detail: str, number: int, basis: str) -> TakeoffLine:
    return _line(code, item, detail, _Range.exact(number), "each", basis)


def _hours(code: Code, named: tuple[str, str], basis: str, seconds: _Range) -> TakeoffLine:
    return _line(code, *named, seconds.scaled(1 / _HOUR, 2), "h", basis)


def _up(value: float, decimals: int) -> float:
    """Round up: an estimate short of the need is the costly side."""
    scale = 10.0**decimals
    return math.ceil(value * scale - 1e-6) / scale
