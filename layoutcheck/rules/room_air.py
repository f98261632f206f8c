"""room-air: the air stays fit to breathe for the whole freeze and hold."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from layoutcheck.document.models import Room as StatedRoom
from layoutcheck.document.named import Named
from layoutcheck.physics.air import (
    CONDENSED_AIR_CAUTION,
    LOW_POINT_CAUTION,
    METER_STATEMENT,
    AirLimit,
    Meter,
    Release,
    Room,
    RoomAir,
    fresh_air_needed,
    meters_suffice,
    releases_of,
    room_air,
)
from layoutcheck.physics.coolant import Coolant
from layoutcheck.physics.schedule import Step
from layoutcheck.quantities.rough import AIR_FLOW, rough, rough_duration
from layoutcheck.quantities.spoken import CoolantName
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import CUTS, Blank, Cure, RestsOn, Role
from layoutcheck.rules.estimates import ROOM_TEMPERATURE, CoolantPlan, coolant_plans
from layoutcheck.rules.facts import Fact, room_of_plug
from layoutcheck.rules.outcome import Dimension, Gravity, Judgement, Outcome, Subject, estimated

# A plug that is moved as a rule lets off what it did before.
_air = lru_cache(maxsize=1024)(room_air)
_fresh_air = lru_cache(maxsize=1024)(fresh_air_needed)


@lru_cache(maxsize=256)
def _releases(steps: tuple[Step, ...], nitrogen: tuple[Step, ...]) -> tuple[Release, ...]:
    return releases_of(steps, nitrogen)


_METER = {Coolant.CARBON_DIOXIDE: "a carbon dioxide meter", Coolant.NITROGEN: "an oxygen meter"}


class RoomAirFit(Rule):
    """The air of each room with a jacket stays fit to breathe for the whole freeze and hold.

    Reason: Carbon dioxide is toxic and both coolants push out air; people have no warning.
    Figure: CO2 5,000 ppm as a mean of 8 h, 30,000 ppm as a mean of 15 min, 40,000 ppm at any time
        (immediately dangerous); oxygen 19.5 %. A CO2 meter where CO2 is used, an oxygen meter
        where nitrogen is. Judged with the most that the plugs may take; what is planned is told
        beside it. All that is let off in a room counts together, whatever the coolant.
    Source: OSHA PEL and NIOSH REL, STEL (NIOSH Pocket Guide 2005-151) and IDLH (CDC/NIOSH, May
        1994), read; oxygen: OSHA letter of 2 April 2007, read. Too much oxygen: above 23.5 %,
        29 CFR 1910.146(b), read; it is told with nitrogen, and has to be measured.
    Does not apply: Where nothing is frozen.
    Undecided: Where the room, its size, the meter or the schedule is not known, and in a room
        below ground with no ventilation stated.
    Does not see: Cold gas that lies at the floor, in pits and shafts: the figures are for air that
        is well mixed. Ventilation that is not stated is taken as none. An oxygen meter alone is
        not accepted for CO2. How much oxygen drips off metal so cold that air condenses on it.
    """

    name = "room-air"
    cures = CUTS | {Cure.MOVE, Cure.BRING}
    rests_on = RestsOn.HEAD
    role = Role.AIR
    needs = frozenset({Blank.ROOMS, Blank.IN_ROOM})
    gravity = Gravity.LIFE
    gravity_reason = "Gas from the coolant suffocates people without warning"
    reason = "Carbon dioxide is toxic and both coolants push out air; people have no warning."
    source = "NIOSH Pocket Guide 2005-151; CDC/NIOSH IDLH page (1994); OSHA letter 2 April 2007"
    waivable = False

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each room in which coolant is let off, all coolants in it together."""
        plans = coolant_plans(case)
        rooms = {r.id: r for r in case.layout.site.rooms}
        for room_id in sorted({room_of(case, p) or "" for p in case.plugs}):
            here = [p for p in case.plugs if (room_of(case, p) or "") == room_id]
            yield self._judge_room(case, rooms.get(room_id), here, plans)

    def _judge_room(
        self,
        case: Case,
        stated: StatedRoom | None,
        plugs: list[PlacedPlug],
        plans: dict[str, CoolantPlan],
    ) -> Judgement:
        concerns = tuple(Named("plug", p.id) for p in plugs)
        if stated is None:
            names = ", ".join(p.id for p in plugs)
            missing = [m for p in plugs for m in room_of_plug(case.layout.site, p.id)]
            return self._unknown(Subject("room", f"of plug {names}", concerns), missing, concerns)
        subject = Subject("room", stated.id)
        missing = [m for p in plugs for m in plans[p.id].missing]
        volume = volume_of(stated)
        if volume is None:
            missing.append(Fact(f"size of room {stated.id}", f"site.rooms.{stated.id}.volume"))
        coolants = [c for c in Coolant if any(p.coolant.value == c.value for p in plugs)]
        missing += _unsaid_meters(stated, coolants)
        if missing or volume is None:
            return self._unknown(subject, missing, concerns)
        air = case.layout.site.air_temperature or ROOM_TEMPERATURE
        room = Room(volume, fresh_air_of(stated, volume), air)
        gas = _gas_of(room, plugs, plans)
        if not gas.most.fit:
            return self._foul(case, subject, gas, concerns)
        if stated.below_ground and room.fresh_air <= 0.0:
            # Cold gas lies at the floor there: air that is well mixed can not be reckoned with.
            lack = f"what draws the cold gas off the floor of room {stated.id} (its ventilation)"
            fact = Fact(lack, f"site.rooms.{stated.id}.ventilation")
            return self._unknown(subject, [fact], concerns)
        return self._metered(subject, coolants, _meters(stated), gas, concerns)

    def _metered(
        self,
        subject: Subject,
        coolants: list[Coolant],
        meters: frozenset[Meter],
        gas: _Gas,
        concerns: tuple[Named, ...],
    ) -> Judgement:
        """Judge air that is fit as reckoned: somebody must measure it all the same."""
        lacking = [c for c in coolants if not meters_suffice(c, meters)]
        if lacking:
            return self.says(
                subject,
                Outcome.BROKEN,
                "no fit meter",
                " ".join(METER_STATEMENT[c] for c in lacking),
                concerns=concerns,
                todo=f"Bring {' and '.join(_METER[c] for c in lacking)}.",
            )
        rich = f" {CONDENSED_AIR_CAUTION}" if Coolant.NITROGEN in coolants else ""
        return self.says(
            subject,
            Outcome.HOLDS,
            "fit to breathe",
            f"{gas.worst}. {gas.usual} {LOW_POINT_CAUTION}{rich}",
            measured=estimated(gas.most.worst_eight_hours, Dimension.FRACTION),
            concerns=concerns,
        )

    def _foul(
        self, case: Case, subject: Subject, gas: _Gas, concerns: tuple[Named, ...]
    ) -> Judgement:
        result = gas.most
        limit, when = min(result.crossed.items(), key=lambda item: item[1])
        needed = _fresh_air(room=gas.room, coolant=result.coolant, releases=gas.releases)
        enough = (
            "No ventilation is enough."
            if needed is None
            else f"It takes {rough(needed, AIR_FLOW, case.layout.units, 'up')} of fresh air."
        )
        return self.says(
            subject,
            Outcome.BROKEN,
            f"past the limit: {limit}",
            f"{gas.worst}: past the limit for {limit} after "
            f"{rough_duration(when, 'down')}. {enough} {gas.usual} {LOW_POINT_CAUTION}",
            measured=estimated(_share(result, limit), Dimension.FRACTION),
            concerns=concerns,
            todo="Ventilate more, use less coolant, or freeze elsewhere.",
        )

    def _unknown(
        self, subject: Subject, missing: list[str], concerns: tuple[Named, ...]
    ) -> Judgement:
        return self.says(
            subject,
            Outcome.UNDECIDED,
            "not known",
            "Whether the air stays fit to breathe is not known.",
            missing=tuple(dict.fromkeys(missing)),
            concerns=concerns,
            todo="State what is missing.",
        )


def room_of(case: Case, plug: PlacedPlug) -> str | None:
    """Give the room of a plug as stated for its pipe, else for the site."""
    own = case.pipe_of(plug).room
    return own if own is not None else case.layout.site.room


def volume_of(room: StatedRoom) -> float | None:
    """Give a room's volume (m3), stated or from floor and height."""
    if room.volume is not None:
        return room.volume or None
    if room.floor_area is None or room.height is None:
        return None
    return room.floor_area * room.height or None


def fresh_air_of(room: StatedRoom, volume: float) -> float:
    """Give a room's fresh air (m3/s); none stated is none."""
    if room.ventilation is not None:
        return room.ventilation
    return (room.air_changes or 0.0) * volume


_METER_FIELD = {Meter.CARBON_DIOXIDE: "carbon_dioxide_meter", Meter.OXYGEN: "oxygen_meter"}


def _needed_meter(coolant: Coolant) -> Meter:
    return Meter.CARBON_DIOXIDE if coolant is Coolant.CARBON_DIOXIDE else Meter.OXYGEN


def _stated_meters(room: StatedRoom) -> dict[Meter, bool | None]:
    return {meter: getattr(room, field) for meter, field in _METER_FIELD.items()}


def _unsaid_meters(room: StatedRoom, coolants: list[Coolant]) -> list[str]:
    """Name the meters that the coolants need and of which nothing is stated."""
    stated = _stated_meters(room)
    unsaid = [c for c in coolants if stated[_needed_meter(c)] is None]
    return [
        Fact(
            f"whether {_METER[c]} is used in room {room.id}",
            f"site.rooms.{room.id}.{_METER_FIELD[_needed_meter(c)]}",
        )
        for c in unsaid
    ]


def _meters(room: StatedRoom) -> frozenset[Meter]:
    return frozenset(meter for meter, value in _stated_meters(room).items() if value)


@dataclass(frozen=True)
class _Gas:
    """What the air of a room comes to: with the most that may be let off, and as planned."""

    room: Room
    releases: tuple[Release, ...]
    most: RoomAir
    planned: RoomAir
    both: bool

    @property
    def worst(self) -> str:
        """Say what the most comes to."""
        return f"At worst {_figures(self.most, both=self.both)}"

    @property
    def usual(self) -> str:
        """Say what the plan comes to, as a sentence."""
        return f"As planned {_figures(self.planned, both=self.both)}."


def _gas_of(room: Room, plugs: list[PlacedPlug], plans: dict[str, CoolantPlan]) -> _Gas:
    """Let off what the plugs of a room may take at most, and what is planned for them."""
    cold = [p for p in plugs if p.coolant is CoolantName.CARBON_DIOXIDE]
    liquid = [p for p in plugs if p.coolant is CoolantName.NITROGEN]
    first, besides = (cold, liquid) if cold else (liquid, [])
    coolant = Coolant(first[0].coolant.value)
    most = _releases(
        tuple(s for p in first for s in plans[p.id].most_steps()),
        tuple(s for p in besides for s in plans[p.id].most_steps()),
    )
    planned = _releases(_planned(first, plans), _planned(besides, plans))
    return _Gas(
        room=room,
        releases=most,
        most=_air(room=room, coolant=coolant, releases=most),
        planned=_air(room=room, coolant=coolant, releases=planned),
        both=bool(besides),
    )


def _planned(plugs: list[PlacedPlug], plans: dict[str, CoolantPlan]) -> tuple[Step, ...]:
    schedules = (plans[p.id].schedule for p in plugs)
    return tuple(step for made in schedules if made is not None for step in made.steps)


def _figures(result: RoomAir, *, both: bool) -> str:
    oxygen = f"oxygen falls to {100 * result.lowest_oxygen:.1f} %"
    if result.coolant is Coolant.NITROGEN:
        return oxygen
    parts = (
        f"CO2 {1e6 * result.worst_eight_hours:,.0f} ppm over 8 h",
        f"{1e6 * result.worst_quarter_hour:,.0f} ppm over 15 min",
        f"{1e6 * result.peak:,.0f} ppm at the peak",
    )
    with_nitrogen = " with the nitrogen" if both else ""
    return f"{', '.join(parts)}; {oxygen}{with_nitrogen}"


def _share(result: RoomAir, limit: AirLimit) -> float:
    return {
        AirLimit.EIGHT_HOUR: result.worst_eight_hours,
        AirLimit.SHORT_TERM: result.worst_quarter_hour,
        AirLimit.DANGER: result.peak,
        AirLimit.OXYGEN: result.lowest_oxygen,
    }[limit]
