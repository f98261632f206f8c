"""The case that rules judge: a layout, its network, a pack of figures, and where plugs stand."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from layoutcheck.document.models import Layout, Moment, Pipe, Plug
from layoutcheck.document.paths import Snapper
from layoutcheck.document.unstated import LONGEST, Unstated, longest, unstated_of
from layoutcheck.network import Field, Metric, Network, Spot, Trust, World, build_network
from layoutcheck.network.apart import Apart
from layoutcheck.network.clearance import drawn_pipes
from layoutcheck.network.jacket import Under, under_jacket
from layoutcheck.network.model import PieceKind
from layoutcheck.network.once import Latest, Once
from layoutcheck.network.region import Regions
from layoutcheck.network.tape import away_from
from layoutcheck.quantities import PipeDimensions, show_length, show_length_pair
from layoutcheck.quantities.spoken import CoolantName
from layoutcheck.rules.pack import Pack

# So many answers about single plugs and pairs are remembered: enough for the pairs of 300 plugs.
_REMEMBERED = 100_000
# So are sections, each with all its pipe; with one plug moved most stay as they were.
_SECTIONS = 200

# The figures that belong to no single rule are kept in a pack under this name.
MEASURING = "measuring"


@dataclass(frozen=True)
class PlacedPlug:
    """A plug on the network. station and jacket in m; size in nominal inches."""

    id: str
    spot: Spot
    pipe: str
    station: float
    jacket: float
    coolant: CoolantName
    inches: float


@dataclass(frozen=True)
class Case:
    """Everything a rule may look at. Nothing in it changes."""

    layout: Layout
    network: Network
    pack: Pack
    plugs: tuple[PlacedPlug, ...]
    worlds: Worlds

    @classmethod
    def of(cls, layout: Layout, pack: Pack) -> Case:
        """Build the case of a sound layout."""
        network = build_network(layout)
        plugs = _placed(layout, network)
        return cls(
            layout=layout,
            network=network,
            pack=pack,
            plugs=plugs,
            worlds=Worlds(network),
        )

    def with_plugs(self, plugs: Sequence[Plug]) -> Case:
        """Give the case of the same site with other plugs; what does not depend on them is shared.

        Raises ValueError for a plug that stands on no pipe of the site, SnapFailure for a drawn
        point that means none.
        """
        layout = self.layout.model_copy(update={"plugs": tuple(plugs)})
        for plug in layout.plugs:
            length = self.network.pipe_length.get(plug.pipe or "", -1.0)
            if self.lacks_length(plug.pipe or ""):
                length = LONGEST
            if plug.point is None and not 0.0 <= (plug.station or 0.0) <= length:
                raise ValueError(f"plug {plug.id} stands on no pipe of this site")
        if self.unstated:
            return Case.of(layout, self.pack)  # how long a pipe is at least hangs on its plugs
        return replace(self, layout=layout, plugs=_placed(layout, self.network))

    @property
    def unstated(self) -> Mapping[str, tuple[Unstated, ...]]:
        """Give what the document leaves out of pipes that distances depend on, by pipe."""
        return self.network.geometry("unstated", lambda: unstated_of(self.layout))

    def lacks_length(self, pipe: str) -> bool:
        """Tell whether nobody stated how long a pipe is, and no drawing tells it."""
        return any(u.field == "length" for u in self.unstated.get(pipe, ()))

    @cached_property
    def longest(self) -> Case | None:
        """Give this case with each unknown pipe as long and narrow as may be; None if all is known.

        This case itself has them as short and as wide as may be.
        """
        if not self.unstated:
            return None
        layout = longest(self.layout, self.unstated)
        worlds = self.network.own("longest", lambda: Worlds(build_network(layout)))
        first, last = (
            {p.id: p for p in _placed(self.layout, n)} for n in (self.network, worlds.network)
        )
        plugs = (
            last[p.id] if first.get(p.id) == p else _as_placed(worlds.network, p)
            for p in self.plugs
        )
        return Case(layout, worlds.network, self.pack, tuple(plugs), worlds)

    @property
    def placeable(self) -> np.ndarray:
        """Tell for each piece whether a place on it can be told and judged: pipe that is known."""
        return self.network.geometry("placeable", self._placeable)

    def _placeable(self) -> np.ndarray:
        found = self.pipes_of_pieces.copy()
        for name in self.unstated:
            found[list(self.network.pieces_of[name])] = False
        return found

    def moved(self, plug: PlacedPlug, spot: Spot) -> Case:
        """Give the case with one plug elsewhere; what does not depend on plugs is shared."""
        new = self.placed(plug, spot)
        return replace(self, plugs=tuple(new if p.id == plug.id else p for p in self.plugs))

    def without(self, plug: PlacedPlug) -> Case:
        """Give the case with one plug left out."""
        return replace(self, plugs=self.others(plug))

    def placed(self, plug: PlacedPlug, spot: Spot) -> PlacedPlug:
        """Give a plug as it stands at another spot."""
        pipe, station = self.network.station(spot)
        inches = self.network.pipes[pipe].size.inches
        return replace(plug, spot=spot, pipe=pipe, station=station, inches=inches)

    def plug(self, plug_id: str) -> PlacedPlug:
        """Give a plug by its id."""
        return next(p for p in self.plugs if p.id == plug_id)

    def others(self, plug: PlacedPlug) -> tuple[PlacedPlug, ...]:
        """Give the other plugs."""
        return tuple(p for p in self.plugs if p.id != plug.id)

    def pipe_of(self, plug: PlacedPlug) -> Pipe:
        """Give the pipe that a plug stands on."""
        return self.network.pipes[plug.pipe]

    def dimensions_of(self, plug: PlacedPlug) -> PipeDimensions:
        """Give the dimensions (m) of the pipe that a plug stands on."""
        return self.network.dimensions[plug.pipe]

    @cached_property
    def plugged(self) -> frozenset[int]:
        """Give the pieces in which a plug stands; one and the same set for all cases alike."""
        found = frozenset(p.spot.piece for p in self.plugs)
        return self.worlds.remember(("plugged", found), lambda: found)

    @cached_property
    def from_jacket_end(self) -> bool:
        """Tell whether distances are measured from the jacket's near end (else its centre)."""
        return self.pack.word(MEASURING, "basis") == "jacket end"

    def reach(self, plug: PlacedPlug) -> float:
        """Give how far (m) from the plug's centre distances begin to count."""
        return plug.jacket / 2 if self.from_jacket_end else 0.0

    def under(self, plug: PlacedPlug) -> tuple[Under, ...]:
        """Give the pieces under a plug's jacket, its own first, with what it covers of each (m)."""
        key = ("under", plug.spot, plug.jacket)
        half = plug.jacket / 2
        return self.worlds.remember(
            key, lambda: under_jacket(self.worlds.all_pipe, plug.spot, half)
        )

    def pipes_under(self, plug: PlacedPlug) -> tuple[Pipe, ...]:
        """Give the pipes under a plug's jacket, its own first, each once."""
        pieces, pipe_of = self.network.pieces, self.network.pipe_of
        found = dict.fromkeys(pieces.elements[i] for i, _ in self.under(plug) if pipe_of[i] >= 0)
        return tuple(self.network.pipes[name] for name in found)

    def length(self, metres: float) -> str:
        """Write a length for people, in the document's preferred units first."""
        return show_length(metres, self.layout.units)

    def at_least(self, metres: float) -> str:
        """Write a length that is asked for, for people: no text of it is shorter than it is."""
        return away_from(metres, math.inf, self.layout.units).shown

    def lengths(self, measured: float, required: float) -> tuple[str, str]:
        """Write a length and its limit so that two that differ never look alike."""
        return show_length_pair(measured, required, self.layout.units)

    def node_name(self, node: int) -> str:
        """Name a node for people."""
        place = self.network.places[node]
        if place.junction is not None:
            return place.junction
        at = f"{place.pipe} at {self.length(place.station or 0.0)}"
        return f"{place.element} ({at})" if place.element else at

    @cached_property
    def pipes_of_pieces(self) -> np.ndarray:
        """Tell for each piece whether it is a piece of pipe."""
        found: np.ndarray = self.network.kind == PieceKind.PIPE
        return found


class Worlds:
    """The network at each moment and degree of trust, built once and kept."""

    def __init__(self, network: Network) -> None:
        """Keep the network."""
        self.network = network
        # What depends on the network alone is kept; of what also depends on where plugs stand, and
        # of sections, only the latest.
        self.once = Once()
        self.remember = Latest(_REMEMBERED)
        self.sections = Latest(_SECTIONS)

    def at(self, moment: Moment, trust: Trust) -> World:
        """Give the network at a moment, read with a degree of trust."""
        return self.once((moment, trust), lambda: World(self.network, moment, trust))

    def freezing(self, trust: Trust) -> World:
        """Give the network while freezing."""
        return self.at(Moment.FREEZING, trust)

    def working(self, trust: Trust) -> World:
        """Give the network while working."""
        return self.at(Moment.WORKING, trust)

    def field(self, name: str, trust: Trust, nodes: Callable[[], np.ndarray]) -> Field:
        """Give the distance field from a named set of nodes while freezing, made once."""
        return self.once(
            ("field", name, trust), lambda: self.freezing(trust).metric.from_nodes(nodes())
        )

    def apart(self, trust: Trust) -> Apart:
        """Give how far spots lie apart while freezing."""
        return self.once(("apart", trust), lambda: Apart(self.freezing(trust).metric))

    def regions(self, trust: Trust) -> Regions:
        """Give what still connects with the opened nodes while working, made once."""
        return self.once(("regions", trust), lambda: Regions(self.working(trust)))

    def along(self, spot: Spot) -> Field:
        """Give the developed length from a spot along all pipe, whatever the valves do."""
        return self.once(("along", spot), lambda: self.all_pipe.from_spot(spot))

    @cached_property
    def all_pipe(self) -> Metric:
        """Give the metric on all pieces, whatever the valves do."""
        return Metric(self.network, np.ones(len(self.network.pieces), dtype=bool))


def _placed(layout: Layout, network: Network) -> tuple[PlacedPlug, ...]:
    """Place the plugs of a layout on its network, in the order of their ids."""
    drawn = any(p.point is not None for p in layout.plugs)
    snapper = network.geometry("snapper", lambda: _snapper(network)) if drawn else None
    plugs = sorted(layout.plugs, key=lambda p: p.id)
    return tuple(_place(network, plug, snapper) for plug in plugs)


def _as_placed(network: Network, plug: PlacedPlug) -> PlacedPlug:
    """Place a plug on another reading of its network, at the same station."""
    inches = network.pipes[plug.pipe].size.inches
    return replace(plug, spot=network.spot(plug.pipe, plug.station), inches=inches)


def _snapper(network: Network) -> Snapper:
    return Snapper(network.layout, drawn_pipes(network))


def _place(network: Network, plug: Plug, snapper: Snapper | None) -> PlacedPlug:
    if plug.point is not None and snapper is not None:
        pipe, share = snapper.snap(plug.point)
        station = share * network.pipe_length[pipe]
    else:
        pipe, station = plug.pipe or "", plug.station or 0.0
    return PlacedPlug(
        id=plug.id,
        spot=network.spot(pipe, station),
        pipe=pipe,
        station=station,
        jacket=plug.jacket,
        coolant=plug.coolant,
        inches=network.pipes[pipe].size.inches,
    )
