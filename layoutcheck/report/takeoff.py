"""Quantities of a planned freeze for an estimating tool: lines with a unit and a basis each."""

from __future__ import annotations

import csv
import io
import math
from collections import defaultdict
from collections.abc import Iterator
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
from layoutcheck.report.model import LayoutPart, PackPart, Part, PlugPart, Report, Verdict
from layoutcheck.rules.case import Case
from layoutcheck.rules.pack import Pack
from layoutcheck.rules.registry import default_pack

# Exact by definition: the international pound and foot, and the US gallon of 231 in3 (NIST SP 811).
_POUND, _FOOT, _GALLON = 0.45359237, 0.3048, 3.785411784e-3
_HOUR = 3600.0

Unit = Literal["each", "lb", "kg", "ft", "m", "h", "US gal", "L"]


class TakeoffLine(Part):
    """One line. basis: where the quantity comes from, so that it can be argued with."""

    item: str
    detail: str
    quantity: float
    unit: Unit
    basis: str


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
        writer.writerow(("item", "detail", "quantity", "unit", "basis", "verdict", "layout"))
        for line in self.lines:
            writer.writerow(
                (
                    guarded(line.item),
                    guarded(line.detail),
                    f"{line.quantity:g}",
                    line.unit,
                    guarded(line.basis),
                    self.verdict.value,
                    self.layout.digest[:19],
                )
            )
        return out.getvalue().encode("utf-8-sig")


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

    def mass(self, item: str, detail: str, kilograms: float, basis: str) -> TakeoffLine:
        """Write a mass, rounded up: to three digits or so an estimate means anything."""
        value = kilograms / _POUND if self.imperial else kilograms
        return _line(item, detail, _up(value, 1), "lb" if self.imperial else "kg", basis)

    def length(self, item: str, detail: str, metres: float, basis: str) -> TakeoffLine:
        """Write a length."""
        value = metres / _FOOT if self.imperial else metres
        return _line(item, detail, _up(value, 2), "ft" if self.imperial else "m", basis)

    def _jackets(self) -> Iterator[TakeoffLine]:
        groups: dict[tuple[str, str], list[str]] = defaultdict(list)
        for plug in self.report.plugs:
            groups[plug.size, plug.jacket.shown].append(plug.id)
        for (size, long), plugs in sorted(groups.items()):
            told = f"plugs {', '.join(plugs)}, as marked"
            yield _line("jacket", f"{size}, {long} long", len(plugs), "each", told)

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
            likely = math.fsum(p.total.likely.value for p in parts)
            most = math.fsum(p.on_hand.value for p in parts)
            ids = ", ".join(p.id for p in plugs)
            yield self.mass(
                coolant, "to have on site", most, f"high end of the estimate with reserve, {ids}"
            )
            yield self.mass(coolant, "likely use", likely, f"likely end with reserve, {ids}")
            full = sum(p.cylinders for p in parts)
            yield _line(
                CONTAINER[Coolant(coolant)],
                f"{coolant}, {parts[0].cylinder.shown}",
                full,
                "each",
                "usable liquid at the stated storage temperature, counted plug by plug",
            )
            nozzles = sum(p.nozzles for p in parts)
            yield _line("nozzle with hose", coolant, nozzles, "each", "all plugs frozen together")

    def _hours(self) -> Iterator[TakeoffLine]:
        work = self.case.layout.work
        timed = [p for p in self.report.plugs if p.freeze.due is not None]
        if work is not None:
            yield _hours("work on the open line", "whole crew", work.duration, "as stated")
        if not timed or len(timed) < len(self.report.plugs):
            return
        due = max(p.freeze.due.value for p in timed if p.freeze.due is not None)
        yield _hours(
            "freeze", "first injection until the last plug is due", due, "high end of the estimate"
        )
        ends = [
            step.start.value
            for p in timed
            if p.freeze.coolant is not None
            for step in p.freeze.coolant.steps
            if step.kind == StepKind.HOLD_ENDS.value
        ]
        yield _hours(
            "plug watch",
            "person-hours, one person for each plug",
            math.fsum(ends),
            "first injection until the hold ends; common practice, no published source",
        )
        thaw = [p.freeze.time_to_thaw.likely.value for p in timed if p.freeze.time_to_thaw]
        if thaw:
            yield _hours(
                "thaw",
                "by itself, attended, likely",
                max(thaw),
                "estimate for the slowest plug; may take twice as long",
            )

    def _strip(self) -> Iterator[TakeoffLine]:
        margin = self.case.pack.number("straight-run", "margin")
        totals: dict[str, list[float]] = defaultdict(list)
        for plug in self.case.plugs:
            covering = self.case.pipe_of(plug).covering
            if covering is Covering.BARE:
                continue
            how = "as stated" if covering is not None else "covering not stated"
            totals[how].append(plug.jacket + 2 * margin)
        for how, lengths in sorted(totals.items()):
            yield self.length(
                "insulation to strip",
                how,
                math.fsum(lengths),
                "jackets and the straight margin at each end",
            )

    def _valves_and_locks(self) -> Iterator[TakeoffLine]:
        layout = self.case.layout
        shut = [v.id for v in layout.valves if v.at(Moment.WORKING) is ValveState.CLOSED]
        locked = [m.id for m in (*layout.pumps, *layout.equipment) if m.is_locked(Moment.WORKING)]
        bleeds = [o.id for o in layout.outlets if o.at(Moment.FREEZING) is OutletState.BLEED]
        for item, names in (
            ("valve to shut and prove", shut),
            ("machine to lock off", locked),
            ("bleed with hose, attended", bleeds),
        ):
            if names:
                told = ", ".join(sorted(names))
                yield _line(item, told, len(names), "each", "as stated in the layout")

    def _outlets(self) -> Iterator[TakeoffLine]:
        shut = [
            o.id
            for o in self.case.layout.outlets
            if o.at(Moment.WORKING) not in {None, OutletState.MAY_DRAW}
        ]
        for item, names, basis in (
            (
                "outlet out of service",
                out_of_service(self.case),
                "no way from a source or tank while the line is open",
            ),
            ("outlet shut, bled or drained", tuple(sorted(shut)), "as stated for the work"),
        ):
            if names:
                yield _line(item, ", ".join(names), len(names), "each", basis)

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
            "water drained",
            "at the work",
            _up(drain.volume.value / each, 2),
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


def _line(item: str, detail: str, quantity: float, unit: Unit, basis: str) -> TakeoffLine:
    return TakeoffLine(item=item, detail=detail, quantity=quantity, unit=unit, basis=basis)


def _hours(item: str, detail: str, seconds: float, basis: str) -> TakeoffLine:
    return _line(item, detail, _up(seconds / _HOUR, 2), "h", basis)


def _up(value: float, decimals: int) -> float:
    """Round up: an estimate short of the need is the costly side."""
    scale = 10.0**decimals
    return math.ceil(value * scale - 1e-6) / scale
