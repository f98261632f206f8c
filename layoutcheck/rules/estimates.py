"""What the physics says of a plug in a case: its freeze, its coolant, its schedule, its clock."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from layoutcheck.document.models import Stock
from layoutcheck.network import Trust
from layoutcheck.network.rising import rising_below
from layoutcheck.physics.coolant import (
    CYLINDER_MASS,
    NITROGEN_LIQUID_DENSITY,
    NITROGEN_VESSEL,
    Coolant,
    CylinderStateError,
    Supply,
)
from layoutcheck.physics.coolant_need import CoolantNeed, Jacket, coolant_needed, cylinders_for
from layoutcheck.physics.ice.answer_types import FreezeAnswer, FreezeOutcome
from layoutcheck.physics.ice.closure import Orientation
from layoutcheck.physics.ice.inputs import (
    DEFAULT_SOLID_DIAMETERS,
    LONGEST_COLUMN,
    SOLID_LENGTH_SPREAD,
    FreezeInputError,
    FreezeInputs,
)
from layoutcheck.physics.schedule import Schedule, Step, StepKind, make_schedule
from layoutcheck.physics.strength import COMPRESSION, HOLDING_FACTOR, plug_length_needed
from layoutcheck.quantities import PipeDimensions
from layoutcheck.quantities.spoken import CoolantName
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.covered import not_covered
from layoutcheck.rules.facts import Fact
from layoutcheck.rules.fillings import filling_at
from layoutcheck.rules.heads import heads_of
from layoutcheck.rules.outcome import Dimension

# What a stock that is stored too warm lacks, in the words by which it is missing everywhere.
LIQUID = "cylinders that hold liquid"

# Needed lengths are rounded up to this step (m), so that plugs that differ by a hair share one run
# of the model. A longer length takes longer: the safe side.
_LENGTH_STEP = 0.01

# Columns are rounded up to these (m), for the same reason. More of one takes longer.
_COLUMN_STEPS = (1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0, LONGEST_COLUMN)

# A pipe that rises by more than this share of its length is taken as vertical. In between the two
# the model's convection for a vertical pipe is the stronger one, so that is the safe side.
_VERTICAL_SHARE = 0.2

# Room temperature where none is stated, K (68 degF); an assumption that the report names.
ROOM_TEMPERATURE = 293.15

HOLDING = "holding-pressure"


@dataclass(frozen=True)
class Freeze:
    """A plug's freeze: the model's answer, or what is missing for one.

    needed: solid length (m) asked for; None where it is not known, or the head is beyond what is
    vouched for.
    """

    answer: FreezeAnswer | None
    needed: float | None
    missing: tuple[str, ...] = ()

    @property
    def closes(self) -> bool:
        """Tell whether the pipe surely closes over the needed length."""
        return self.answer is not None and self.answer.outcome is FreezeOutcome.CLOSES

    @property
    def beyond(self) -> bool:
        """Tell whether the head is beyond what any length of ice is vouched for to hold."""
        return self.answer is None and self.needed is None and not self.missing


def freeze_of(case: Case, plug: PlacedPlug) -> Freeze:
    """Give the freeze of a plug, for the solid length that its head needs."""
    start = water_temperature(case, plug)
    if start is None:
        unknown = _unknown_pipe(case, plug)
        if unknown:
            return Freeze(None, None, unknown)
        missing = (
            *heads_of(case).at(plug.spot).missing,
            Fact(f"water temperature at plug {plug.id}", "site.water_temperature"),
        )
        return Freeze(None, None, missing)
    return freeze_from(case, plug, start)


def _unknown_pipe(case: Case, plug: PlacedPlug) -> tuple[str, ...]:
    """Say what a freeze needs to be known of each pipe: its size; its length if it rises."""
    if not case.unstated:
        return ()
    heights = {j.id: j.elevation for j in case.layout.junctions}
    return tuple(
        Fact(u.says, u.path)
        for pipe in case.pipes_under(plug)
        for u in case.unstated.get(pipe.id, ())
        if u.field == "size" or heights[pipe.from_] != heights[pipe.to]
    )


def freeze_from(case: Case, plug: PlacedPlug, start: float) -> Freeze:
    """Give the freeze of a plug from water at some temperature (K).

    The freezes of all plugs of the case are worked out with it: together they cost little more
    than one.
    """
    # The solver takes a while to load: only a case that needs it pays for it.
    from layoutcheck.physics.ice.model import freeze_answers  # noqa: PLC0415

    asked = _question(case, plug, start)
    if isinstance(asked, Freeze):
        return asked
    others = (
        _question(case, other, own)
        for other in case.plugs
        if (own := water_temperature(case, other)) is not None
    )
    together = [asked, *(one for one in others if isinstance(one, FreezeInputs))]
    answer = freeze_answers(together)[0]
    return Freeze(answer, asked.solid_length, answer.missing)


def _question(case: Case, plug: PlacedPlug, start: float) -> FreezeInputs | Freeze:
    """Give what the model is asked of a plug, or what is missing for that."""
    key = ("freeze question", plug, start)
    return case.worlds.remember(key, lambda: _asked(case, plug, start))


def _asked(case: Case, plug: PlacedPlug, start: float) -> FreezeInputs | Freeze:
    unknown = _unknown_pipe(case, plug) or filling_at(case, plug).missing
    if unknown:
        return Freeze(None, None, unknown)
    dimensions = case.dimensions_of(plug)
    head = heads_of(case).at(plug.spot)
    if head.missing or head.pressure is None:
        return Freeze(None, None, head.missing)
    needed = solid_length_for(
        dimensions,
        head.pressure,
        factor=case.pack.number(HOLDING, "factor"),
        compression=case.pack.number(HOLDING, "compression"),
    )
    if needed is None:
        return Freeze(None, None, ())
    rounded = math.ceil(needed / _LENGTH_STEP - 1e-9) * _LENGTH_STEP
    # Rounding must not ask for more than the jacket where the jacket is just long enough (a
    # millimetre of slack: the head may be a pascal over what is allowed).
    needed = plug.jacket if needed - 1e-3 <= plug.jacket < rounded else rounded
    stated = case.layout.site.air_temperature
    try:
        return FreezeInputs(
            outside_diameter=dimensions.outside_diameter,
            wall=dimensions.wall,
            material=case.pipe_of(plug).material,
            coolant=Coolant(plug.coolant.value),
            jacket_length=plug.jacket,
            start_temperature=start,
            orientation=orientation_of(case, plug),
            needed_solid_length=needed,
            ambient_temperature=ROOM_TEMPERATURE if stated is None else stated,
            column_below=column_below(case, plug),
        )
    except FreezeInputError as error:
        return Freeze(None, needed, (not_covered(error, plug.id, case.layout.units),))


def solid_length_for(
    dimensions: PipeDimensions,
    pressure: float,
    *,
    factor: float = HOLDING_FACTOR.value,
    compression: float = COMPRESSION.value,
) -> float | None:
    """Give the solid length (m) to freeze against a head (Pa); None beyond what is vouched for.

    compression: strength of the ice, Pa. The low end of the plug's length must still hold, so a
    little more is asked for.
    """
    by_head = plug_length_needed(
        bore=dimensions.inside_diameter, pressure=pressure, factor=factor, compression=compression
    )
    if by_head is None:
        return None
    least = DEFAULT_SOLID_DIAMETERS * dimensions.outside_diameter
    return max(least, by_head / (1.0 - SOLID_LENGTH_SPREAD))


def water_temperature(case: Case, plug: PlacedPlug) -> float | None:
    """Give the warmest water (K) under a plug's jacket, as stated for each pipe or for the site.

    None where nothing is stated of one of the pipes.
    """
    general = case.layout.site.water_temperature
    own = [pipe.water_temperature for pipe in case.pipes_under(plug)]
    known = [general if t is None else t for t in own]
    return None if None in known else max(t for t in known if t is not None)


def orientation_of(case: Case, plug: PlacedPlug) -> Orientation:
    """Tell how the pipe lies under a jacket: level only where all of it is.

    Unknown heights count as vertical, the safe side.
    """
    level = all(_is_level(case, piece) for piece, _ in case.under(plug))
    return Orientation.HORIZONTAL if level else Orientation.VERTICAL


def _is_level(case: Case, index: int) -> bool:
    piece, elevation = case.network.pieces[index], case.network.elevation
    rise = abs(float(elevation[piece.v] - elevation[piece.u]))
    # A pump, or a valve whose body has no length, is a point: it lies in no direction of its own.
    return rise <= _VERTICAL_SHARE * piece.length


def column_below(case: Case, plug: PlacedPlug) -> float | None:
    """Give the length (m) of the water that rises to a plug from below, rounded up.

    None for a level pipe, and where a height or a length is not known. Only valves proven tight
    keep water out of it.
    """
    if orientation_of(case, plug) is Orientation.HORIZONTAL:
        return None
    world = case.worlds.freezing(Trust.PROVEN)
    area = math.pi / 4.0 * case.dimensions_of(plug).inside_diameter ** 2
    found = rising_below(world, plug.spot, area, enough=2.0 * LONGEST_COLUMN)
    if found is None:
        return None
    return next((step for step in _COLUMN_STEPS if found <= step), 2.0 * LONGEST_COLUMN)


@dataclass(frozen=True)
class CoolantPlan:
    """A plug's coolant and schedule, or what is missing for them.

    due: s from the first injection until the plug is due. hold: s from then to the work's end.
    """

    need: CoolantNeed | None
    schedule: Schedule | None
    due: float = math.inf
    hold: float = math.inf
    missing: tuple[str, ...] = ()
    supply: Supply | None = None

    @property
    def cylinder_mass(self) -> float:
        """Coolant in one full cylinder (kg)."""
        return CYLINDER_MASS.value if self.supply is None else self.supply.cylinder_mass

    @property
    def container(self) -> tuple[float, Dimension]:
        """What one full one holds: kg of carbon dioxide, or m3 of liquid nitrogen."""
        if self.supply is not None and self.supply.coolant is Coolant.NITROGEN:
            return self.cylinder_mass / NITROGEN_LIQUID_DENSITY.value, Dimension.VOLUME
        return self.cylinder_mass, Dimension.MASS

    @property
    def cylinders(self) -> int:
        """Full cylinders that give what must be on hand."""
        if self.supply is None or not math.isfinite(self.mass):
            return 0
        return cylinders_for(self.mass, self.supply)

    @property
    def drawn(self) -> float:
        """Most that leaves the nozzles until the hold ends (kg): the high need or the schedule.

        The one mass that rules share: what must be on hand is this with the reserve, and what
        people in the room may breathe is this.
        """
        if self.need is None or self.schedule is None:
            return math.inf
        need = self.need
        return max(need.until_plug.high + need.hold.high, self.schedule.mass)

    @property
    def mass(self) -> float:
        """Coolant to have on hand (kg): all that may be drawn, and the reserve."""
        return math.inf if self.need is None else self.drawn + self.need.reserve.high

    def most_steps(self) -> tuple[Step, ...]:
        """Give the schedule's steps with the high masses in them: more gas in the same time."""
        if self.need is None or self.schedule is None:
            return ()
        until, hold = self.need.until_plug.high, self.need.hold.high
        freezing, holding = (StepKind.INJECT, StepKind.INJECT_FURTHER), (StepKind.TOP_UP,)
        factors = {
            kind: max(1.0, high / planned) if (planned := self.schedule.mass_of(*kinds)) else 1.0
            for kinds, high in ((freezing, until), (holding, hold))
            for kind in kinds
        }
        return tuple(
            replace(step, mass=step.mass * factors.get(step.kind, 1.0))
            for step in self.schedule.steps
        )


def coolant_plans(case: Case) -> dict[str, CoolantPlan]:
    """Give the coolant plan of each plug.

    All jackets are started together; the work begins when the last plug is due, so a plug that is
    due earlier is held that much longer. Several rules and the report ask: worked out once for
    where the plugs stand.
    """
    key = ("coolant plans", case.plugs)
    return case.worlds.remember(key, lambda: _coolant_plans(case))


def _coolant_plans(case: Case) -> dict[str, CoolantPlan]:
    freezes = {p.id: freeze_of(case, p) for p in case.plugs}
    dues = [
        time.high
        for f in freezes.values()
        if f.closes and f.answer is not None and (time := f.answer.time_to_plug) is not None
    ]
    last = max(dues, default=0.0)
    return {p.id: _plan_of(case, p, freezes[p.id], last) for p in case.plugs}


def _plan_of(case: Case, plug: PlacedPlug, freeze: Freeze, last_due: float) -> CoolantPlan:
    """Plan one plug's coolant, once for each time at which the last plug of all is due."""
    key = ("coolant plan", plug, last_due)
    return case.worlds.remember(key, lambda: _plan(case, plug, freeze, last_due))


def _stored_at(case: Case, coolant: CoolantName) -> Fact:
    """Ask how warm the cylinders of a coolant are stored."""
    held = enumerate(case.layout.site.stock)
    bare = (n for n, s in held if s.coolant is coolant and s.storage_temperature is None)
    number = next(bare, None)
    where = "site.stock" if number is None else f"site.stock.{number}.storage_temperature"
    return Fact("storage temperature of the cylinders", where)


def _plan(case: Case, plug: PlacedPlug, freeze: Freeze, last_due: float) -> CoolantPlan:
    missing = list(freeze.missing)
    answer = freeze.answer
    stock = stock_of(case, plug.coolant)
    supply = _supply(plug.coolant, stock)
    if supply is None:
        missing.append(_stored_at(case, plug.coolant))
    if case.layout.work is None:
        missing.append(Fact("how long the work takes", "work.duration"))
    if not missing and not freeze.closes:
        missing.append(f"a freeze that surely closes at plug {plug.id}")
    if missing or answer is None or supply is None or case.layout.work is None:
        return CoolantPlan(None, None, missing=tuple(missing))
    time = answer.time_to_plug
    early = 0.0 if time is None else max(0.0, last_due - time.high)
    return coolant_plan(
        answer,
        outside_diameter=case.dimensions_of(plug).outside_diameter,
        jacket=plug.jacket,
        supply=supply,
        hold=case.layout.work.duration + early,
    )


def coolant_plan(
    answer: FreezeAnswer, *, outside_diameter: float, jacket: float, supply: Supply, hold: float
) -> CoolantPlan:
    """Plan the coolant of one freeze.

    outside_diameter: of the pipe, m. jacket: its length, m. hold: from the plug being due to the
    end of the work, s.
    """
    heat, time = answer.heat_taken, answer.time_to_plug
    if heat is None or time is None or not answer.hold_courses:
        return CoolantPlan(None, None, missing=("a freeze that surely closes and holds",))
    shape = Jacket.round_pipe(pipe_outside_diameter=outside_diameter, length=jacket)

    def need_for(held: float) -> CoolantNeed:
        return coolant_needed(
            heat_to_freeze=heat,
            freeze_time=time,
            hold_heat=answer.hold_heat(held),
            hold_time=held,
            jacket=shape,
            supply=supply,
            ambient_temperature=answer.inputs.ambient_temperature,
        )

    try:
        need = need_for(hold)
    except CylinderStateError:
        return CoolantPlan(None, None, missing=(LIQUID,))
    schedule = make_schedule(
        need=need,
        freeze_time=time,
        hold_time=hold,
        hold_used=lambda held: need_for(held).hold.likely,
    )
    due = schedule.start_of(StepKind.PLUG_DUE)
    return CoolantPlan(need, schedule, due, hold, supply=supply)


def stock_of(case: Case, coolant: CoolantName) -> list[Stock]:
    """Give the stated stock of a coolant."""
    return [s for s in case.layout.site.stock if s.coolant is coolant]


def _supply(coolant: CoolantName, stock: list[Stock]) -> Supply | None:
    """Give what is drawn from: the warmest stated cylinder, which gives least."""
    temperatures = [s.storage_temperature for s in stock if s.storage_temperature is not None]
    if coolant is CoolantName.CARBON_DIOXIDE and len(temperatures) < max(1, len(stock)):
        return None
    kind = Coolant(coolant.value)
    size = min((mass_each(s) for s in stock), default=usual_mass(kind))
    warmest = max(temperatures, default=None)
    return Supply(kind, size, warmest)


def mass_each(stock: Stock) -> float:
    """Give the coolant (kg) in one full cylinder or vessel of a stock, however it is stated."""
    if stock.mass_each is not None:
        return stock.mass_each
    return (stock.volume_each or 0.0) * NITROGEN_LIQUID_DENSITY.value


def usual_mass(coolant: Coolant) -> float:
    """Give the coolant (kg) in one full cylinder or vessel where none is stated."""
    if coolant is Coolant.NITROGEN:
        return NITROGEN_VESSEL.value * NITROGEN_LIQUID_DENSITY.value
    return CYLINDER_MASS.value
