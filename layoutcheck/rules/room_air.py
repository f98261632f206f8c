"""room-air: the air stays fit to breathe for the whole freeze and hold."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from layoutcheck.document.models import CoolantName
from layoutcheck.document.models import Room as StatedRoom
from layoutcheck.physics.air import (
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
from layoutcheck.quantities import show_flow
from layoutcheck.quantities.shown import show_duration
from layoutcheck.rules.base import Rule
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.estimates import ROOM_TEMPERATURE, CoolantPlan, coolant_plans
from layoutcheck.rules.outcome import Dimension, Judgement, Outcome, Subject, estimated

# A plug that is moved as a rule lets off what it did before.
_air = lru_cache(maxsize=1024)(room_air)
_fresh_air = lru_cache(maxsize=1024)(fresh_air_needed)


@lru_cache(maxsize=256)
def _releases(steps: tuple[Step, ...]) -> tuple[Release, ...]:
    return releases_of(steps)


_METER = {Coolant.CARBON_DIOXIDE: "a carbon dioxide meter", Coolant.NITROGEN: "an oxygen meter"}


class RoomAirFit(Rule):
    """The air of each room with a jacket stays fit to breathe for the whole freeze and hold.

    Reason: Carbon dioxide is toxic and both coolants push out air; people have no warning.
    Figure: CO2 5,000 ppm as a mean of 8 h, 30,000 ppm as a mean of 15 min, 40,000 ppm at any time
        (immediately dangerous); oxygen 19.5 %. A CO2 meter where CO2 is used, an oxygen meter
        where nitrogen is.
    Source: OSHA PEL and NIOSH REL, STEL (NIOSH Pocket Guide 2005-151) and IDLH (CDC/NIOSH, May
        1994), read; oxygen: OSHA letter of 2 April 2007, read.
    Does not apply: Where nothing is frozen.
    Undecided: Where the room, its size, the meter or the schedule is not known, and in a room
        below ground with no ventilation stated.
    Does not see: Cold gas that lies at the floor, in pits and shafts: the figures are for air that
        is well mixed. Ventilation that is not stated is taken as none. An oxygen meter alone is
        not accepted for CO2.
    """

    name = "room-air"
    reason = "Carbon dioxide is toxic and both coolants push out air; people have no warning."
    source = "NIOSH Pocket Guide 2005-151; CDC/NIOSH IDLH page (1994); OSHA letter 2 April 2007"
    waivable = False

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each room in which coolant is let off."""
        plans = coolant_plans(case)
        rooms = {r.id: r for r in case.layout.site.rooms}
        for coolant in CoolantName:
            used = [p for p in case.plugs if p.coolant is coolant]
            for room_id in sorted({room_of(case, p) or "" for p in used}):
                here = [p for p in used if (room_of(case, p) or "") == room_id]
                yield self._judge_room(case, rooms.get(room_id), here, plans)

    def _judge_room(
        self,
        case: Case,
        stated: StatedRoom | None,
        plugs: list[PlacedPlug],
        plans: dict[str, CoolantPlan],
    ) -> Judgement:
        coolant = Coolant(plugs[0].coolant.value)
        concerns = tuple(f"plug {p.id}" for p in plugs)
        if stated is None:
            names = ", ".join(p.id for p in plugs)
            subject = Subject("room", f"of plug {names} ({coolant})")
            missing = [f"the room of plug {p.id}" for p in plugs]
            return self._unknown(subject, missing, concerns)
        subject = Subject("room", f"{stated.id} ({coolant})")
        missing = [m for p in plugs for m in plans[p.id].missing]
        volume = volume_of(stated)
        if volume is None:
            missing.append(f"size of room {stated.id}")
        meters = _meters(stated, coolant)
        if meters is None:
            missing.append(f"whether {_METER[coolant]} is used in room {stated.id}")
        steps = [s for p in plugs if (x := plans[p.id].schedule) is not None for s in x.steps]
        if missing or volume is None or meters is None:
            return self._unknown(subject, missing, concerns)
        air = case.layout.site.air_temperature or ROOM_TEMPERATURE
        room = Room(volume, fresh_air_of(stated, volume), air)
        releases = _releases(tuple(steps))
        result = _air(room=room, coolant=coolant, releases=releases)
        if not result.fit:
            return self._foul(case, subject, room, releases, result, concerns)
        if stated.below_ground and room.fresh_air <= 0.0:
            # Cold gas lies at the floor there: air that is well mixed can not be reckoned with.
            lack = f"what draws the cold gas off the floor of room {stated.id} (its ventilation)"
            return self._unknown(subject, [lack], concerns)
        return self._metered(subject, coolant, meters, result, concerns)

    def _metered(
        self,
        subject: Subject,
        coolant: Coolant,
        meters: frozenset[Meter],
        result: RoomAir,
        concerns: tuple[str, ...],
    ) -> Judgement:
        """Judge air that is fit as reckoned: somebody must measure it all the same."""
        if not meters_suffice(coolant, meters):
            return self.says(
                subject,
                Outcome.BROKEN,
                "no fit meter",
                METER_STATEMENT[coolant],
                concerns=concerns,
                todo=f"Bring {_METER[coolant]}.",
            )
        return self.says(
            subject,
            Outcome.HOLDS,
            "fit to breathe",
            f"{_figures(result)}. {LOW_POINT_CAUTION}",
            measured=estimated(result.worst_eight_hours, Dimension.FRACTION),
            concerns=concerns,
        )

    def _foul(
        self,
        case: Case,
        subject: Subject,
        room: Room,
        releases: tuple[Release, ...],
        result: RoomAir,
        concerns: tuple[str, ...],
    ) -> Judgement:
        limit, when = min(result.crossed.items(), key=lambda item: item[1])
        needed = _fresh_air(room=room, coolant=result.coolant, releases=releases)
        enough = (
            "No ventilation is enough."
            if needed is None
            else f"{show_flow(needed, case.layout.units)} of fresh air would do."
        )
        return self.says(
            subject,
            Outcome.BROKEN,
            f"past the limit: {limit}",
            f"{_figures(result)}: past the limit for {limit} after {show_duration(when)}. "
            f"{enough} {LOW_POINT_CAUTION}",
            measured=estimated(_share(result, limit), Dimension.FRACTION),
            concerns=concerns,
            todo="Ventilate more, use less coolant, or freeze elsewhere.",
        )

    def _unknown(
        self, subject: Subject, missing: list[str], concerns: tuple[str, ...]
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


def _meters(room: StatedRoom, coolant: Coolant) -> frozenset[Meter] | None:
    """Give the meters in use; None where nothing is stated of the one that the coolant needs."""
    stated = {
        Meter.CARBON_DIOXIDE: room.carbon_dioxide_meter,
        Meter.OXYGEN: room.oxygen_meter,
    }
    needed = Meter.CARBON_DIOXIDE if coolant is Coolant.CARBON_DIOXIDE else Meter.OXYGEN
    if stated[needed] is None:
        return None
    return frozenset(meter for meter, value in stated.items() if value)


def _figures(result: RoomAir) -> str:
    oxygen = f"oxygen falls to {100 * result.lowest_oxygen:.1f} %"
    if result.coolant is Coolant.NITROGEN:
        return f"At worst {oxygen}"
    parts = (
        f"CO2 {1e6 * result.worst_eight_hours:,.0f} ppm over 8 h",
        f"{1e6 * result.worst_quarter_hour:,.0f} ppm over 15 min",
        f"{1e6 * result.peak:,.0f} ppm at the peak",
    )
    return f"At worst {', '.join(parts)}; {oxygen}"


def _share(result: RoomAir, limit: AirLimit) -> float:
    return {
        AirLimit.EIGHT_HOUR: result.worst_eight_hours,
        AirLimit.SHORT_TERM: result.worst_quarter_hour,
        AirLimit.DANGER: result.peak,
        AirLimit.OXYGEN: result.lowest_oxygen,
    }[limit]
