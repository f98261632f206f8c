"""What a phone needs to keep the clock and the log of one freeze: the crew's sheet as data.

It judges nothing of its own: schedule, ticks, courses and limits are those of the sheet, the log
and the rules. Only a compliant layout has steps; any other gives its verdict and what to do first.
"""

from __future__ import annotations

from layoutcheck import __version__
from layoutcheck.document.models import Layout
from layoutcheck.physics.air import EIGHT_HOUR_LIMIT, OXYGEN_LIMIT, OXYGEN_RICH
from layoutcheck.physics.schedule import StepKind
from layoutcheck.report.cautions import CAUTIONS, DEFERENCE
from layoutcheck.report.log.course import FROST_OFF, SURFACE_OFF
from layoutcheck.report.log.model import FreezeLog
from layoutcheck.report.log.template import log_template, sheet_mark
from layoutcheck.report.log.when import MINUTE
from layoutcheck.report.model import (
    ActionPart,
    CoursePart,
    LayoutPart,
    PackPart,
    Part,
    PlugPart,
    Report,
    Span,
    StepPart,
    Verdict,
)
from layoutcheck.report.sheet.build import build_sheet
from layoutcheck.report.sheet.model import Group, PlugCard, Sheet
from layoutcheck.report.sheet.schedule import give_up
from layoutcheck.report.sheet.signs import ALARM, BAD_SIGNS, GOOD_SIGNS, WATER
from layoutcheck.rules.estimates import mass_each
from layoutcheck.rules.pack import Pack

WATCH_FORMAT = "layoutcheck watch 1"
NO_PERMIT = (
    "This is a clock and a log, not a permit. It controls nothing and proves nothing: only the "
    "pressure test shows how a plug stands."
)


class WatchTick(Part):
    """Something to do or see before going on, and why. It is ticked with a name and a time."""

    text: str
    why: str = ""


class WatchGroup(Part):
    """Ticks under a heading."""

    title: str
    ticks: tuple[WatchTick, ...]


class WatchStep(Part):
    """One line of a plug's schedule: s from the first injection, s, and kg of coolant."""

    start: float
    duration: float
    kind: StepKind
    mass: float


class WatchPlug(Part):
    """What the crew at one jacket follows.

    towards: the two ends of its pipe, for the frost on either side. times are s from the first
    injection; interval: s between top-ups. loss: what comes of it if the plug goes.
    """

    id: str
    pipe: str
    size: str
    room: str
    jacket: str
    coolant: str
    towards: tuple[str, str]
    steps: tuple[WatchStep, ...]
    interval: float
    expected: float
    due: float
    give_up: float
    ends: float
    plug: tuple[float, float, float]
    courses: tuple[CoursePart, ...]
    loss: str
    holds_back: str
    bleeds: tuple[str, ...]


class WatchStock(Part):
    """Coolant of one kind on site as stated, kg, and what one of its containers holds at most."""

    coolant: str
    mass: float
    container: float


class WatchLimits(Part):
    """How far something may be off before it counts; shares of the air; s, m, K.

    carbon_dioxide is the limit for a whole shift, held against each single reading: the safe side.
    """

    minute: float = MINUTE
    frost_off: float = FROST_OFF
    surface_off: float = SURFACE_OFF
    carbon_dioxide: float = EIGHT_HOUR_LIMIT.value
    oxygen_least: float = OXYGEN_LIMIT.value
    oxygen_most: float = OXYGEN_RICH.value


class WatchOrders(Part):
    """What to do when something goes wrong, in the words of the sheet."""

    alarm: str
    water: str
    if_a_plug_goes: str
    signs: tuple[tuple[str, str], ...]
    good_signs: tuple[tuple[str, str], ...]


class WatchPlan(Part):
    """All that a phone needs to keep the clock and the log of a freeze without a network.

    may_start: only then are there ticks, plugs and steps. log: the empty log of the sheet.
    """

    format: str = WATCH_FORMAT
    version: str
    verdict: Verdict
    may_start: bool
    headline: str
    layout: LayoutPart
    pack: PackPart
    sheet: str
    units: str
    work: tuple[str, ...]
    actions: tuple[ActionPart, ...]
    before: tuple[WatchGroup, ...]
    order: tuple[WatchGroup, ...]
    plugs: tuple[WatchPlug, ...]
    stock: tuple[WatchStock, ...]
    limits: WatchLimits = WatchLimits()
    orders: WatchOrders
    log: FreezeLog | None
    no_permit: str = NO_PERMIT
    cautions: tuple[str, ...] = CAUTIONS
    deference: str = DEFERENCE

    def to_json(self) -> str:
        """Write the plan as JSON: the same bytes for the same layout and report."""
        return self.model_dump_json(indent=1) + "\n"


def watch_plan(layout: Layout, report: Report, *, pack: Pack | None = None) -> WatchPlan:
    """Gather what a phone needs. report: that of the same layout, with the same pack."""
    sheet = build_sheet(layout, report, pack=pack)
    ready = sheet.may_freeze
    return WatchPlan(
        version=__version__,
        verdict=report.verdict,
        may_start=ready,
        headline=sheet.headline,
        layout=report.layout,
        pack=report.pack,
        sheet=sheet_mark(report),
        units=report.units,
        work=sheet.work,
        actions=report.actions,
        before=_before(sheet) if ready else (),
        order=tuple(map(_group, sheet.order)),
        plugs=tuple(_plug(layout, p, c) for p, c in _pairs(report, sheet)) if ready else (),
        stock=_stock(layout, report) if ready else (),
        orders=_orders(sheet),
        log=log_template(report) if ready else None,
    )


def _pairs(report: Report, sheet: Sheet) -> list[tuple[PlugPart, PlugCard]]:
    return list(zip(report.plugs, sheet.plugs, strict=True))


def _before(sheet: Sheet) -> tuple[WatchGroup, ...]:
    """Give the sheet's ticks, with what stands elsewhere on paper: cautions, air, tape."""
    cautions = WatchTick(
        text="Everybody at the job has heard the cautions read out. Read by ____________",
        why=" ".join(CAUTIONS),
    )
    air = WatchTick(
        text="Air measured now, at the floor beside each jacket. Carbon dioxide: ________ Oxygen: "
        "________",
    )
    tape = tuple(
        WatchTick(
            text=f"Plug {c.id} is marked with tape on {c.pipe}: the jacket's near end lies "
            + " and ".join(f"{m.to_jacket} from {m.name}" for m in c.landmarks)
            + "."
        )
        for c in sheet.plugs
    )
    own = (
        WatchGroup(title="Cautions", ticks=(cautions,)),
        WatchGroup(title="Plugs marked", ticks=tape),
    )
    last = WatchGroup(title="Air, last of all", ticks=(air,))
    return (*own, *map(_group, sheet.before), last)


def _group(group: Group) -> WatchGroup:
    ticks = tuple(WatchTick(text=t.text, why=t.why) for t in group.ticks)
    return WatchGroup(title=group.title, ticks=ticks)


def _plug(layout: Layout, part: PlugPart, card: PlugCard) -> WatchPlug:
    coolant, freeze = part.freeze.coolant, part.freeze
    assert coolant is not None, "a sheet that may freeze has a schedule for each plug"
    pipe = next(p for p in layout.pipes if p.id == card.pipe)
    return WatchPlug(
        id=part.id,
        pipe=card.pipe,
        size=part.size,
        room=card.room,
        jacket=card.jacket,
        coolant=part.coolant,
        towards=(pipe.from_, pipe.to),
        steps=tuple(map(_step, coolant.steps)),
        interval=coolant.top_up_interval.value,
        expected=_moment(coolant.steps, StepKind.PLUG_EXPECTED),
        due=_moment(coolant.steps, StepKind.PLUG_DUE),
        give_up=give_up(coolant.steps),
        ends=_moment(coolant.steps, StepKind.HOLD_ENDS),
        plug=_values(freeze.time_to_plug),
        courses=freeze.courses,
        loss=card.loss,
        holds_back=card.holds_back,
        bleeds=card.bleeds,
    )


def _step(step: StepPart) -> WatchStep:
    return WatchStep(
        start=step.start.value,
        duration=step.duration.value,
        kind=StepKind(step.kind),
        mass=step.mass.value,
    )


def _moment(steps: tuple[StepPart, ...], kind: StepKind) -> float:
    return next(s.start.value for s in steps if s.kind == kind.value)


def _values(span: Span | None) -> tuple[float, float, float]:
    assert span is not None, "a plug with a schedule has a time"
    return span.low.value, span.likely.value, span.high.value


def _stock(layout: Layout, report: Report) -> tuple[WatchStock, ...]:
    rows = []
    for coolant in sorted({p.coolant for p in report.plugs}):
        stated = [s for s in layout.site.stock if s.coolant.value == coolant]
        rows.append(
            WatchStock(
                coolant=coolant,
                mass=sum(s.cylinders * mass_each(s) for s in stated),
                container=max((mass_each(s) for s in stated), default=0.0),
            )
        )
    return tuple(rows)


def _orders(sheet: Sheet) -> WatchOrders:
    return WatchOrders(
        alarm=ALARM,
        water=WATER,
        if_a_plug_goes=sheet.if_a_plug_goes,
        signs=BAD_SIGNS,
        good_signs=GOOD_SIGNS,
    )
