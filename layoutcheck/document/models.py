"""The layout document as pydantic models: the single source of the JSON Schema.

Every quantity is a text with its unit in the document and an SI float here. Every list may
come in any order; elements are told apart by their ids.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field, PrivateAttr, field_validator, model_validator
from pydantic_core import PydanticCustomError

from layoutcheck.document.fields import (
    AirChanges,
    AirFlow,
    Area,
    Coordinate,
    Day,
    Duration,
    Elevation,
    Flag,
    FluidName,
    Head,
    Id,
    Length,
    Mass,
    MaterialName,
    Meanings,
    Person,
    Point,
    Pressure,
    Size,
    Temperature,
    Text,
    Volume,
    Words,
)
from layoutcheck.quantities import Material, NominalSize, SizeSeries, UnitSystem
from layoutcheck.quantities.spoken import CoolantName, Spoken

# What stands in a pipe of which no size is stated; a check never figures with it.
SIZE_NOT_STATED = NominalSize("size not stated", 0.0, 0, SizeSeries.NPS)

FORMAT = "layoutcheck layout 1"

# The lists of a layout that hold elements with ids.
ELEMENT_LISTS = (
    "junctions",
    "pipes",
    "fittings",
    "valves",
    "pumps",
    "equipment",
    "sources",
    "outlets",
    "plugs",
)


class Strict(BaseModel):
    """What every part of the document shares: no unknown fields, no later changes."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


# Where an element stands, and that it stands apart from the work and the plugs: what may be asked
# of it beside its fields.
PLACE, APART = "place", "apart"


class Asked(Strict):
    """What looks like a slip is asked about, and one word here says that it is meant.

    asks: the fields, and PLACE and APART, that may be asked about; meant: those that are meant.
    """

    asks: ClassVar[frozenset[str]] = frozenset()

    meant: Meanings = Field((), description="What looks odd here and is meant, such as 'length'.")

    @field_validator("meant")
    @classmethod
    def _known_words(cls, words: tuple[str, ...]) -> tuple[str, ...]:
        if not cls.asks.issuperset(words):
            raise PydanticCustomError(
                "meant",
                "must be a word that can be asked about here",
                {"example": " or ".join(f'"{one}"' for one in sorted(cls.asks))},
            )
        return words

    def means(self, word: str) -> bool:
        """Tell whether the document says that an odd value or place is meant."""
        return word in self.meant


class Moment(StrEnum):
    """The two moments that are judged."""

    FREEZING = "freezing"
    WORKING = "working"


class ValveState(Spoken):
    """How a valve stands; 'passing' is shut but leaking."""

    OPEN = "open"
    CLOSED = "closed"
    PASSING = "passing"

    @classmethod
    def also(cls) -> Mapping[str, str]:
        """Give other words that mean the same."""
        return {"shut": "closed", "leaking": "passing", "leaks": "passing", "letting by": "passing"}


class ValveStates(Strict):
    """A valve that stands differently at the two moments."""

    freezing: ValveState | None = Field(None, description="How it stands while the plugs freeze.")
    working: ValveState | None = Field(None, description="How it stands while the line is open.")


class OutletState(Spoken):
    """How an outlet stands; not stated means that it may draw.

    A bleed is shut to flow and is opened by hand, or by itself, as soon as the ice has closed: it
    lets out the water that growing ice pushes ahead of itself. Somebody stands by it. A leak lets
    water out, can not be locked off or manned, and is no relief for ice.
    """

    MAY_DRAW = "may draw"
    LOCKED_OFF = "locked off"
    KEPT_OPEN = "kept open"
    BLEED = "bleed"
    LEAKING = "leaking"

    @classmethod
    def also(cls) -> Mapping[str, str]:
        """Give other words that mean the same."""
        leaks = ("leak", "leaks", "drips", "dripping", "weeping")
        kinds = ("tap", "drain", "vent", "air vent", "hydrant")
        return dict.fromkeys(leaks, "leaking") | dict.fromkeys(kinds, "may draw")


class OutletStates(Strict):
    """An outlet that stands differently at the two moments."""

    freezing: OutletState | None = Field(None, description="How it stands while the plugs freeze.")
    working: OutletState | None = Field(None, description="How it stands while the line is open.")


class Locks(Strict):
    """Whether a machine is locked off, at each moment."""

    freezing: Flag = Field(
        default=False, description="True if it is locked off while the plugs freeze."
    )
    working: Flag = Field(
        default=False, description="True if it is locked off while the line is open."
    )


class FittingKind(Spoken):
    """What a fitting is."""

    TEE = "tee"
    CROSS = "cross"
    ELBOW = "elbow"
    REDUCER = "reducer"
    CAP = "cap"
    BLIND = "blind"
    FLANGE = "flange"
    UNION = "union"
    COUPLING = "coupling"
    WELD = "weld"
    STRAINER = "strainer"
    METER = "meter"
    OTHER = "other"

    @classmethod
    def also(cls) -> Mapping[str, str]:
        """Give other words that mean the same."""
        return {
            **{"bend": "elbow", "end cap": "cap", "blank": "blind", "blind flange": "blind"},
            **{"blank flange": "blind", "water meter": "meter", "socket": "coupling"},
        }


class ValveKind(Spoken):
    """What a valve is. A check valve is never taken as a barrier."""

    GATE = "gate"
    GLOBE = "globe"
    BALL = "ball"
    BUTTERFLY = "butterfly"
    COCK = "cock"
    CHECK = "check"
    BALANCING = "balancing"
    CONTROL = "control"
    REDUCING = "pressure reducing"
    OTHER = "other"

    @classmethod
    def also(cls) -> Mapping[str, str]:
        """Give other words that mean the same."""
        return {
            **{f"{kind.value} valve": kind.value for kind in cls if kind is not cls.OTHER},
            **dict.fromkeys(("non-return", "non-return valve", "nrv"), "check"),
            "plug valve": "cock",
        }


# No jacket may lie on a body: it is no bare pipe.
Body = Annotated[
    Length,
    Field(
        description="Face to face, centred on its place. No jacket may lie there.",
        json_schema_extra={"default": "0 in"},
    ),
]
BodyAtEnd = Annotated[
    Length,
    Field(
        description="How far what stands at this end's junction reaches, from its middle to the "
        "pipe's own end. The pipe's length and stations begin at its own end, and this comes on "
        "top: distances, volumes and heights count it, and no jacket may lie there.",
        json_schema_extra={"default": "0 in"},
    ),
]


class GoesOn(StrEnum):
    """What lies beyond a pipe's end where the document stops and the pipe does not.

    Fed: water can come in from there, at a pressure nobody stated, or leave. Dead: neither; the
    water beyond is at rest and has nowhere to go.
    """

    FED = "fed"
    DEAD = "dead"


class Junction(Asked):
    """A point where pipes meet or end."""

    asks = frozenset({"elevation", "fitting", APART})

    id: Id = Field(description="Its name, once among junctions: 'J4'.")
    name: Text | None = Field(None, description="What people call it, for reports.")
    elevation: Elevation | None = Field(
        None,
        description="Its height over the site's datum: '12 ft'. Left out: heads, drained water "
        "and air at high points there are not known.",
    )
    at: Point | None = Field(None, description="Position on the drawing, in drawing units.")
    fitting: FittingKind | None = Field(
        None,
        description="What stands there: 'tee', 'reducer', 'cap'. Left out at an end of pipe: what"
        " ends the pipe is asked.",
    )
    body: Body = 0.0
    goes_on: GoesOn | None = Field(
        None,
        description="The pipe goes on beyond this end, and what it goes on to is 'fed' or 'dead'.",
    )
    defective: Flag = Field(default=False, description="A weld or joint stated as defective.")
    ref: Id | None = Field(None, description="Id in the source model, such as an IFC GlobalId.")


class Vertex(Strict):
    """A corner of a drawn path whose height is known."""

    at: Point = Field(description="Its place on the drawing, in drawing units.")
    elevation: Elevation | None = Field(None, description="Its height over the site's datum.")


class PipeFlow(StrEnum):
    """What the document states of flow in a pipe while freezing."""

    FLOWING = "flowing"
    NONE = "none"


class Covering(Spoken):
    """What lies over the pipe; 'insulation' can be stripped, 'fixed' can not."""

    BARE = "bare"
    INSULATION = "insulation"
    FIXED = "fixed"

    @classmethod
    def also(cls) -> Mapping[str, str]:
        """Give other words that mean the same."""
        return dict.fromkeys(("insulated", "lagging", "lagged"), "insulation")


class Pipe(Asked):
    """A pipe between two junctions; stations are measured from its 'from' end."""

    asks = frozenset({"length", "size", "water_temperature", "clear_space", APART})

    id: Id = Field(description="Its name, once among pipes: 'riser-2'.")
    name: Text | None = Field(None, description="What people call it, for reports.")
    from_: Id = Field(alias="from", description="The junction from which stations count.")
    to: Id = Field(description="The junction at its other end.")
    size: Size = Field(
        default_factory=lambda: SIZE_NOT_STATED,
        description="Nominal size: '2 in', 'NPS 2', 'DN 50'. Left out: setbacks and the freeze "
        "are not known.",
    )
    material: MaterialName = Field(
        Material.UNKNOWN,
        json_schema_extra={"default": Material.UNKNOWN.value},
        description="What it is made of: 'carbon steel', 'copper'. Left out: the site's material,"
        " else the freeze and the cold wall are not known.",
    )
    wall: Text | None = Field(None, description="Schedule or tube type: 'sch 40', 'type L'.")
    outside_diameter: Length | None = Field(
        None,
        description="Outside diameter, with wall_thickness, for pipe of no standard: '2.375 in'.",
    )
    wall_thickness: Length | None = Field(
        None, description="Thickness of the wall, with outside_diameter: '0.154 in'."
    )
    length: Length | None = Field(None, description="Developed length; rules over the drawing.")
    from_body: BodyAtEnd = 0.0
    to_body: BodyAtEnd = 0.0
    via: tuple[Point | Vertex, ...] = Field(
        (), description="Corners of the drawn path between the two junctions."
    )
    flow: PipeFlow | None = Field(
        None,
        description="What is known of flow in it while freezing: 'flowing', or 'none', which is "
        "held against the network. Left out: taken from the network.",
    )
    covering: Covering | None = Field(
        None,
        description="What lies over it: 'bare', 'insulation' (can be stripped), 'fixed' (can "
        "not). Left out: the site's, else it is taken that it can be stripped.",
    )
    clear_space: Length | None = Field(None, description="Free space all round, seen on site.")
    water_temperature: Temperature | None = Field(
        None, description="Temperature of the water in it: '60 degF'. Left out: the site's."
    )
    fluid: FluidName | None = Field(
        None,
        description="What fills this pipe, and so all pipe that is open to it: 'plain water'.",
    )
    pressure_rating: Pressure | None = Field(
        None,
        description="What its weakest part stands: '200 psi'. Left out: the pipe's own limit and"
        " a light joint's.",
    )
    room: Id | None = Field(
        None, description="The room it runs through. Left out: the site's room."
    )
    low_temperature_accepted_by: Words | None = Field(
        None, description="Who accepted this wall for the coolant's temperature, and on what basis."
    )
    ref: Id | None = Field(None, description="Its id in the source model, such as an IFC GlobalId.")

    @property
    def sized(self) -> bool:
        """Tell whether its nominal size is stated."""
        return self.size != SIZE_NOT_STATED

    @property
    def tape_from(self) -> str:
        """Say where a tape along the pipe starts: a point that a hand can touch."""
        return f"the face of {self.from_}" if self.from_body else self.from_


def _there(*names: str) -> dict[str, Any]:
    return {
        "required": list(names),
        "properties": {n: {"type": ["string", "array"]} for n in names},
    }


def _none_of(*names: str) -> dict[str, Any]:
    return {"not": {"anyOf": [_there(n) for n in names]}}


def _either(one: str, *others: str) -> dict[str, Any]:
    """Say in a JSON Schema that one field is given, or all of the others."""
    return {"if": _there(one), "then": _none_of(*others), "else": _there(*others)}


class Placed(Asked):
    """Something at a junction, or at a station on a pipe."""

    model_config = ConfigDict(json_schema_extra=_either("junction", "pipe", "station"))

    junction: Id | None = Field(
        None, description="The junction it stands at; or name pipe and station."
    )
    pipe: Id | None = Field(None, description="The id of the pipe it stands on, with station.")
    station: Length | None = Field(
        None, description="Where on the pipe its middle is, from the pipe's first end: '4 ft'."
    )

    @model_validator(mode="after")
    def _one_place(self) -> Placed:
        on_pipe = self.pipe is not None and self.station is not None
        half = (self.pipe is None) != (self.station is None)
        if half or on_pipe == (self.junction is not None):
            raise PydanticCustomError(
                "place",
                "needs either a junction, or a pipe and a station on it",
                {"example": '"junction": "J4"  or  "pipe": "P2", "station": "12 ft"'},
            )
        return self


class Fitting(Strict):
    """A fitting at a station on a pipe (a fitting at a junction is stated there)."""

    id: Id = Field(description="Its name, once among fittings: 'E1'.")
    kind: FittingKind = Field(
        description="What it is: 'elbow', 'union', 'weld'. No jacket may lie on it."
    )
    pipe: Id = Field(description="The id of the pipe it is in.")
    station: Length = Field(
        description="Where on the pipe its middle is, from the pipe's first end: '4 ft'."
    )
    body: Body = 0.0
    defective: Flag = Field(
        default=False, description="True where a weld or joint is known to be bad. Left out: sound."
    )
    ref: Id | None = Field(None, description="Its id in the source model, such as an IFC GlobalId.")


class Tightness(StrEnum):
    """Whether a closed valve was shown to hold."""

    PROVEN = "proven"
    NOT_PROVEN = "not proven"


class Valve(Placed):
    """A valve in a pipe, or at a junction of one or two pipes."""

    asks = frozenset({"body", "tightness"})

    id: Id = Field(description="Its name, once among valves: 'V7'.")
    name: Text | None = Field(None, description="What people call it, for reports.")
    kind: ValveKind = Field(
        ValveKind.OTHER,
        description="'gate', 'ball', 'check' and so on. A check valve is never a barrier. Left "
        "out: some valve that can be shut.",
    )
    state: ValveState | ValveStates | None = Field(
        None,
        description="How it stands: 'open', 'closed', 'passing' (shut but leaking), or for each "
        "moment. Left out: taken on the unsafe side.",
    )
    tightness: Tightness | None = Field(
        None,
        description="'proven' once it was shown to hold, 'not proven' where it is known not to "
        "have been. Left out: in doubt.",
    )
    body: Body = 0.0
    ref: Id | None = Field(None, description="Its id in the source model, such as an IFC GlobalId.")

    def at(self, moment: Moment) -> ValveState | None:
        """Give the stated state at a moment; None where nothing is stated."""
        if isinstance(self.state, ValveStates):
            return self.state.freezing if moment is Moment.FREEZING else self.state.working
        return self.state


class Machine(Placed):
    """What pumps, heaters and coolers share."""

    id: Id = Field(description="Its name, once among its kind: 'P1'.")
    name: Text | None = Field(None, description="What people call it, for reports.")
    body: Body = 0.0
    locked_off: Flag | Locks = Field(
        default=False,
        description='True if it is locked off and tagged, or for each moment: {"freezing": true}.'
        " Left out: it may run.",
    )
    ref: Id | None = Field(None, description="Its id in the source model, such as an IFC GlobalId.")

    def is_locked(self, moment: Moment) -> bool:
        """Tell whether the machine is stated to be locked off at a moment."""
        if isinstance(self.locked_off, Locks):
            locks = self.locked_off
            return locks.freezing if moment is Moment.FREEZING else locks.working
        return self.locked_off


class Pump(Machine):
    """A pump; it may run unless it is stated to be locked off."""

    asks = frozenset({"shutoff_head", PLACE})

    shutoff_head: Head | None = Field(
        None, description="Its head at no flow: '40 ft', or as a pressure."
    )


class EquipmentKind(Spoken):
    """What a piece of equipment is."""

    HEATER = "heater"
    COOLER = "cooler"
    TANK = "tank"

    @classmethod
    def also(cls) -> Mapping[str, str]:
        """Give other words that mean the same."""
        return {
            **dict.fromkeys(("boiler", "radiator", "convector", "calorifier"), "heater"),
            **dict.fromkeys(("chiller", "cooling coil", "cooling tower"), "cooler"),
        }


class Equipment(Machine):
    """A heater, cooler or tank. A tank holds water that can reach the work."""

    asks = frozenset({"level", PLACE, APART})

    kind: EquipmentKind = Field(
        description="Heater, cooler or tank. A tank is a way in for its water."
    )
    volume: Volume | None = Field(
        None,
        description="How much water a tank holds: '80 gal'. Left out: what is let out if a plug "
        "goes is not bounded by it.",
    )
    level: Elevation | None = Field(None, description="Height of a tank's water surface.")


class SourceKind(Spoken):
    """Where pressure comes from."""

    MAIN = "main"
    PUMP = "pump"
    RAISED_TANK = "raised tank"
    EXPANSION_VESSEL = "expansion vessel"

    @classmethod
    def also(cls) -> Mapping[str, str]:
        """Give other words that mean the same."""
        return {
            **dict.fromkeys(("mains", "street main", "city main", "town main"), "main"),
            **dict.fromkeys(("roof tank", "header tank"), "raised tank"),
            **dict.fromkeys(("expansion tank", "vessel"), "expansion vessel"),
        }


class Source(Asked):
    """A place where water is pressed into the network."""

    asks = frozenset({"pressure", "level", PLACE, APART})

    id: Id = Field(description="Its name, once among sources: 'main'.")
    name: Text | None = Field(None, description="What people call it, for reports.")
    junction: Id = Field(description="The junction at which it presses water in.")
    kind: SourceKind = Field(description="'main', 'pump', 'raised tank' or 'expansion vessel'.")
    pressure: Pressure | None = Field(None, description="Highest gauge pressure at the junction.")
    level: Elevation | None = Field(None, description="Highest water level of a raised tank.")
    volume: Volume | None = Field(
        None, description="How much water it can let out; left out of a main, it does not end."
    )
    ref: Id | None = Field(None, description="Its id in the source model, such as an IFC GlobalId.")


class Outlet(Asked):
    """A place where water can leave: a tap, a drain, a vent, an appliance."""

    asks = frozenset({PLACE})

    id: Id = Field(description="Its name, once among outlets: 'T12'.")
    name: Text | None = Field(None, description="What people call it, for reports.")
    junction: Id = Field(
        description="The junction at which water can leave. A leak, such as a dripping gland, is "
        "an outlet too: water that leaves keeps the pipe moving."
    )
    state: OutletState | OutletStates | None = Field(
        None,
        description="How it stands: 'locked off', 'kept open', 'bleed', 'leaking', or for each "
        "moment. Left out: it may draw at any time.",
    )
    ref: Id | None = Field(None, description="Its id in the source model, such as an IFC GlobalId.")

    @property
    def leaks(self) -> bool:
        """Tell whether it is a leak: nobody can lock it off, man it, or keep it open."""
        return any(self.at(moment) is OutletState.LEAKING for moment in Moment)

    def at(self, moment: Moment) -> OutletState | None:
        """Give the stated state at a moment; None where nothing is stated."""
        if isinstance(self.state, OutletStates):
            return self.state.freezing if moment is Moment.FREEZING else self.state.working
        return self.state


class WorkItem(Strict):
    """One thing that will be opened: name exactly one of them."""

    model_config = ConfigDict(
        json_schema_extra={
            "if": _there("pipe", "start", "end"),
            "then": _none_of("junction", "valve", "pump"),
            "else": {
                "oneOf": [_there("junction"), _there("valve"), _there("pump")],
                **_none_of("pipe", "start", "end"),
            },
        }
    )

    junction: Id | None = Field(
        None, description="A junction that is opened: a joint broken, a branch cut in."
    )
    valve: Id | None = Field(None, description="A valve that is changed or opened up.")
    pump: Id | None = Field(None, description="A pump that is taken out or opened up.")
    pipe: Id | None = Field(
        None, description="A pipe of which a length is opened, with start and end."
    )
    start: Length | None = Field(None, description="Station where the opened length begins.")
    end: Length | None = Field(None, description="Station where the opened length ends.")

    @model_validator(mode="after")
    def _one_thing(self) -> WorkItem:
        named = [x for x in (self.junction, self.valve, self.pump, self.pipe) if x is not None]
        stretch = self.start is not None and self.end is not None
        if len(named) != 1 or ((self.start or self.end) is not None and self.pipe is None):
            raise PydanticCustomError(
                "work",
                "names exactly one of junction, valve, pump, or pipe (with start and end)",
                {"example": '{"valve": "V7"}'},
            )
        if self.pipe is not None and not stretch:
            raise PydanticCustomError(
                "work",
                "a pipe that is opened needs the stations where the opening starts and ends",
                {"example": '{"pipe": "P2", "start": "3 ft", "end": "4 ft 6 in"}'},
            )
        return self

    @property
    def label(self) -> str:
        """Name the item for people: 'valve V7'."""
        return f"{self.kind} {self.on}"

    @property
    def kind(self) -> str:
        """Say what is opened: a junction, a valve, a pump or a pipe."""
        return next(k for k in ("junction", "valve", "pump", "pipe") if getattr(self, k))

    @property
    def on(self) -> str:
        """Give the id of what is opened."""
        return str(getattr(self, self.kind))


class Work(Asked):
    """What will be opened to air, and for how long."""

    asks = frozenset({"duration"})

    open: tuple[WorkItem, ...] = Field(
        min_length=1, description="What will be opened: valves, pumps, junctions, lengths of pipe."
    )
    duration: Duration = Field(description="How long it stays open: '3 h'.")
    name: Text | None = Field(None, description="What the work is called.")
    if_a_plug_goes: Words | None = Field(
        None, description="Who stops the water, where and how, if a plug lets go."
    )


class Plug(Asked):
    """A marked freeze point: a station on a pipe, or a point on the drawing."""

    model_config = ConfigDict(json_schema_extra=_either("point", "pipe", "station"))

    asks = frozenset({"jacket"})

    id: Id = Field(description="Its name, once among plugs: 'F1'.")
    name: Text | None = Field(None, description="What people call it, for reports.")
    pipe: Id | None = Field(None, description="The id of the pipe to be frozen, with station.")
    station: Length | None = Field(
        None,
        description="Where on the pipe the jacket's middle is, from the pipe's first end: '8 ft'.",
    )
    point: Point | None = Field(None, description="A drawn point, snapped to the nearest pipe.")
    jacket: Length = Field(description="Length of the cold jacket along the pipe.")
    ref: Id | None = Field(None, description="Its id in the source model, such as an IFC GlobalId.")
    coolant: CoolantName = Field(
        CoolantName.CARBON_DIOXIDE,
        description="What freezes it: 'carbon dioxide' (dry ice) or 'nitrogen'. Left out: carbon "
        "dioxide.",
    )

    @model_validator(mode="after")
    def _one_place(self) -> Plug:
        stationed = self.pipe is not None and self.station is not None
        half = (self.pipe is None) != (self.station is None)
        if half or stationed == (self.point is not None):
            raise PydanticCustomError(
                "place",
                "needs either a pipe and a station on it, or a point on the drawing",
                {"example": '"pipe": "P2", "station": "12 ft"'},
            )
        return self


class DrawingKind(StrEnum):
    """What the drawing shows."""

    RISER = "riser"
    PLAN = "plan"


class Drawing(Strict):
    """How the drawing relates to the building."""

    kind: DrawingKind = Field(
        DrawingKind.RISER,
        description="What the drawing shows: a riser diagram, which is not to scale, or a plan. "
        "Left out: a riser diagram.",
    )
    scale: Length | None = Field(None, description="Real length of one drawing unit, if to scale.")
    snap_within: Coordinate | None = Field(
        None, ge=0, description="How far a drawn point may lie from its pipe, in drawing units."
    )


class Room(Asked):
    """A space in which coolant is let off."""

    asks = frozenset(
        {"volume", "floor_area", "height", "ventilation", "air_changes", "flood_depth"}
    )

    id: Id = Field(description="Its name, once among rooms.")
    name: Text | None = Field(None, description="What people call it, for reports.")
    volume: Volume | None = Field(
        None, description="Its free volume: '60000 ft3'. Left out: floor area times height."
    )
    floor_area: Area | None = Field(
        None,
        description="Its floor: '4000 ft2'. Left out: how deep lost water stands is not known.",
    )
    height: Length | None = Field(None, description="From floor to ceiling: '15 ft'.")
    ventilation: AirFlow | None = Field(
        None,
        description="Fresh air let in: '400 cfm'. Left out: air changes, else none is counted.",
    )
    air_changes: AirChanges | None = Field(
        None, description="The same as air changes: '6 per hour'."
    )
    below_ground: Flag | None = Field(
        None,
        description="True where gas can not run off downwards. Left out: taken as not below "
        "ground.",
    )
    carbon_dioxide_meter: Flag | None = Field(
        None, description="True if a carbon dioxide meter is in use there."
    )
    oxygen_meter: Flag | None = Field(None, description="True if an oxygen meter is in use there.")
    flood_depth: Length | None = Field(None, description="Depth of water that does harm.")


class Obstruction(Strict):
    """Something solid near the pipes, as an outline on a plan."""

    id: Id = Field(description="Its name, once among obstructions.")
    name: Text | None = Field(None, description="What people call it, for reports.")
    outline: tuple[Point, ...] = Field(
        min_length=3, description="Its corners on the plan, in drawing units, three or more."
    )
    bottom: Elevation | None = Field(
        None, description="Height of its underside. Left out: it reaches to the floor."
    )
    top: Elevation | None = Field(
        None, description="Height of its top. Left out: it reaches to the ceiling."
    )


class Stock(Asked):
    """Coolant on hand."""

    asks = frozenset({"cylinders", "mass_each", "storage_temperature"})

    coolant: CoolantName = Field(description="'carbon dioxide' (dry ice) or 'nitrogen'.")
    cylinders: Annotated[int, Field(strict=True, ge=0, le=10_000)] = Field(
        description="How many cylinders or dewars: 8."
    )
    mass_each: Annotated[Mass, Field(gt=0)] | None = Field(
        None, description="Coolant in one full cylinder or vessel: '50 lb'."
    )
    volume_each: Annotated[Volume, Field(gt=0)] | None = Field(
        None, description="Liquid nitrogen in one full vessel: '160 L'. In place of mass_each."
    )
    storage_temperature: Temperature | None = Field(
        None,
        description="Where they stand: '68 degF'. Left out: what a cylinder of carbon dioxide "
        "gives is not known.",
    )
    dip_tube: Flag | None = Field(
        None, description="True if they give liquid: with a dip tube. Left out: asked."
    )
    high_pressure: Flag | None = Field(
        None,
        description="True for high-pressure cylinders, not a refrigerated tank. Left out: asked.",
    )
    upright: Flag | None = Field(
        None, description="True if they stand upright and are tied. Left out: asked."
    )

    @model_validator(mode="after")
    def _one_size(self) -> Stock:
        if (self.mass_each is None) == (self.volume_each is None):
            raise PydanticCustomError(
                "stock",
                "needs what one cylinder or vessel holds, once: mass_each, or volume_each",
                {"example": '"mass_each": "50 lb"'},
            )
        if self.volume_each is not None and self.coolant is not CoolantName.NITROGEN:
            raise PydanticCustomError(
                "stock",
                "carbon dioxide is counted by mass: its liquid fills more room the warmer it is",
                {"example": '"mass_each": "50 lb"'},
            )
        return self


class Site(Asked):
    """What is known of the place round the pipes."""

    asks = frozenset({"water_temperature", "air_temperature", "clear_space"})

    rooms: tuple[Room, ...] = Field(
        (),
        description="The rooms in which coolant is let off. Left out: whether the air stays fit "
        "to breathe is not known.",
    )
    obstructions: tuple[Obstruction, ...] = Field(
        (), description="What stands near the pipes, for the room that a jacket and hands need."
    )
    stock: tuple[Stock, ...] = Field(
        (), description="The coolant on hand. Left out: whether it lasts is not known."
    )
    water_temperature: Temperature | None = Field(
        None,
        description="Temperature of the water in every pipe not stated otherwise: '60 degF'. Left"
        " out: the freeze is not known.",
    )
    fluid: FluidName | None = Field(
        None,
        description="What fills every pipe not stated otherwise: 'plain water', "
        "'30 % propylene glycol by volume'. Not stated: taken as plain water, and said so.",
    )
    air_temperature: Temperature | None = Field(
        None,
        description="Temperature of the air round the pipes. Left out: 68 degF is taken, and said"
        " so.",
    )
    clear_space: Length | None = Field(
        None, description="Free space round every pipe not stated otherwise, seen on site."
    )
    room: Id | None = Field(None, description="Room of every pipe not stated otherwise.")
    material: MaterialName | None = Field(
        None, description="Material of every pipe not stated otherwise."
    )
    wall: Text | None = Field(
        None, description="Wall of every pipe of the site's material not stated otherwise."
    )
    covering: Covering | None = Field(
        None, description="What lies over every pipe not stated otherwise."
    )


class Waiver(Strict):
    """An outcome that somebody takes on, for a reason and a time, as it was found on that day."""

    rule: Id = Field(description="The rule that is waived, by its name.")
    subject: Id = Field(description="What it is waived of, as the report names it: 'F1'.")
    reason: Words = Field(description="Why it is taken on, in words.")
    by: Person = Field(description="Who takes it on: a person's name.")
    until: Day = Field(description="The last day; no more than two years ahead.")
    finding: Text | None = Field(
        None, description="What the rule found when it was agreed, in the words that it asks for."
    )
    measured: Text | None = Field(
        None, description="What was measured when it was agreed, with its unit: '75 degF'."
    )
    required: Text | None = Field(
        None, description="What was asked for when it was agreed, with its unit: '68 degF'."
    )


Points = Annotated[float, Field(strict=True, ge=0, le=1e6, allow_inf_nan=False)]


class Weights(Strict):
    """What the parts of a plan cost, in points; what is left out comes from the pack."""

    plug: Points | None = Field(None, description="Points for each plug.")
    plug_inch: Points | None = Field(
        None, description="Points for each inch of a plug's nominal size."
    )
    off_mark: Points | None = Field(None, description="Points for a plug away from the marks.")
    valve: Points | None = Field(None, description="Points for each valve to close.")
    trusted_valve: Points | None = Field(
        None, description="Points for each valve that must be proven first."
    )
    outlet_action: Points | None = Field(
        None, description="Points for each outlet to lock off or to man."
    )
    outlet_out_of_service: Points | None = Field(
        None, description="Points for each outlet that is cut from the water."
    )
    machine: Points | None = Field(None, description="Points for each machine to lock off.")
    drained: Points | None = Field(None, description="Points for each m3 that drains.")
    coolant: Points | None = Field(None, description="Points for each kg of coolant.")
    hour: Points | None = Field(None, description="Points for each hour.")


class Planning(Asked):
    """What a plan must keep to, and what it should weigh. Marked plugs are wishes only."""

    model_config = ConfigDict(json_schema_extra=_either("point", "pipe", "station"))

    asks = frozenset({"jacket"})

    max_plugs: Annotated[int, Field(strict=True, ge=0, le=100)] | None = Field(
        None, description="How many plugs a plan may freeze at most. Left out: as many as it takes."
    )
    rely_on_unproven_valves: Flag = Field(
        default=True,
        description="False: no plan may lean on a valve that is yet to be proven tight.",
    )
    keep_in_service: tuple[Id, ...] = Field((), description="Outlets that must stay supplied.")
    jacket: Length | None = Field(
        None,
        description="Length of the jackets of a plan. Left out: that of the marked plugs, else "
        "the usual one for the size.",
    )
    coolant: CoolantName | None = Field(
        None, description="The coolant of a plan. Left out: that of the marked plugs."
    )
    weights: Weights = Field(Weights(), description="What the parts of a plan cost, in points.")


class Layout(Asked):
    """One site: its pipes, how they stand, what will be opened, where it will be frozen."""

    asks = frozenset({"units"})

    format: Literal["layoutcheck layout 1"] = Field(
        description="Which form of the document this is: 'layoutcheck layout 1'."
    )
    name: Text = Field(description="What the site is called.")
    note: Text = Field("", description="Anything worth saying of the site; printed under its name.")
    units: UnitSystem = Field(
        UnitSystem.IMPERIAL,
        description="The system that reports speak in first: 'imperial' or 'metric'. Left out: "
        "imperial.",
    )
    drawing: Drawing = Field(
        Drawing(), description="How the drawing relates to the building: its kind and scale."
    )
    junctions: tuple[Junction, ...] = Field(min_length=1, description="Where pipes meet or end.")
    pipes: tuple[Pipe, ...] = Field(
        min_length=1,
        description="The pipes, each between two junctions: one pipe ends where a branch joins, "
        "and the next begins.",
    )
    fittings: tuple[Fitting, ...] = Field(
        (),
        description="What stands in a pipe at a station and is no bare pipe: elbows, unions, "
        "welds.",
    )
    valves: tuple[Valve, ...] = Field((), description="The valves, with how they stand.")
    pumps: tuple[Pump, ...] = Field(
        (), description="The pumps. One that is not locked off may run."
    )
    equipment: tuple[Equipment, ...] = Field((), description="Heaters, coolers and tanks.")
    sources: tuple[Source, ...] = Field(
        (),
        description="Where pressure comes from. The check knows of no source that is left out.",
    )
    outlets: tuple[Outlet, ...] = Field(
        (), description="Where water can leave: taps, drains, vents, appliances."
    )
    work: Work | None = Field(
        None,
        description="What will be opened, and for how long. Left out: whether it is cut off is "
        "not asked.",
    )
    plugs: tuple[Plug, ...] = Field((), description="The freeze points that are marked.")
    site: Site = Field(
        Site(),
        description="What is known of the place round the pipes, and what holds for all pipe.",
    )
    planning: Planning = Field(
        Planning(), description="What a plan must keep to. Left out: the usual costs, no limits."
    )
    waivers: tuple[Waiver, ...] = Field(
        (), description="Findings that somebody takes on, each with a reason and an end."
    )

    _odd_units: tuple[str, ...] = PrivateAttr(())

    @property
    def odd_units(self) -> tuple[str, ...]:
        """Give the values that were written in units of the other system than nearly all."""
        return self._odd_units

    def with_odd_units(self, odd: tuple[str, ...]) -> Layout:
        """Keep what was seen of the units where the document was read."""
        self._odd_units = odd
        return self

    @property
    def ways_in(self) -> tuple[Source, ...]:
        """Give the sources, and a source of unknown pressure where a pipe goes on and is fed."""
        beyond = (
            Source(id=f"beyond {j.id}", junction=j.id, kind=SourceKind.MAIN)
            for j in self.junctions
            if j.goes_on is GoesOn.FED
        )
        return (*self.sources, *beyond)
