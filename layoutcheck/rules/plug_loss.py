"""plug-loss: if one plug lets go, there is time to stop the water before it does harm."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from layoutcheck.document.models import Room
from layoutcheck.network import Trust
from layoutcheck.network.cut import reached
from layoutcheck.network.model import PieceKind
from layoutcheck.physics.loss import (
    Layer,
    LossKind,
    PlugLoss,
    Space,
    loss_by_draining,
    loss_from_source,
)
from layoutcheck.quantities.rough import VOLUME, WATER_FLOW, rough
from layoutcheck.quantities.shown import show_duration_pair, show_length
from layoutcheck.rules.base import Rule, plug_subject
from layoutcheck.rules.case import Case, PlacedPlug
from layoutcheck.rules.declared import CUTS, Blank, Cure, RestsOn, Role
from layoutcheck.rules.facts import Fact, room_of_plug
from layoutcheck.rules.heads import heads_of
from layoutcheck.rules.outcome import Amount, Dimension, Gravity, Judgement, Outcome, Severity
from layoutcheck.rules.pack import Figure, Tighter
from layoutcheck.rules.room_air import room_of


class PlugLossTime(Rule):
    """If one plug lets go, there is time to stop the water, or somebody is ready to.

    Reason: A plug can let go at any time; who knows how much comes, and from where, is ready.
    Figure: 5 min until the space is under water to the depth that does harm, with the most that
        the open bore lets through. Where it is sooner, the document says who stops the water,
        where and how.
    Source: Torricelli's outflow through the full bore, calculated, discharge 0.6 to 1 (handbook
        values, from memory). The 5 min are an own choice, no published source.
    Does not apply: Where the head at the plug is nothing, or the document states no work.
    Undecided: Where the head, the room's floor or the depth that does harm is not known, and
        where the time is short and nobody is named who stops the water.
    Does not see: Friction in the pipe, which makes it slower, drains in the floor, and water that
        runs on into other rooms.
    """

    name = "plug-loss"
    cures = CUTS | {Cure.MOVE}
    rests_on = RestsOn.HEAD
    role = Role.IF_LOST
    needs = frozenset({Blank.ROOMS, Blank.IN_ROOM, Blank.PRESSURE, Blank.HEIGHT, Blank.LEVEL})
    severity = Severity.ADVICE
    gravity = Gravity.FLOOD
    gravity_reason = "If a plug lets go, water runs until somebody stops it"
    reason = "A plug can let go at any time; know how much water comes, and be ready for it."
    source = "Torricelli's outflow, calculated"
    figures = (
        Figure(
            key="time_to_act",
            built_in="5 min",
            dimension=Dimension.DURATION,
            tighter=Tighter.MORE,
            source="own choice, no published source",
            meaning="Time until lost water does harm, in which somebody can shut it off.",
        ),
    )

    def judge(self, case: Case) -> Iterator[Judgement]:
        """Judge each plug."""
        # Never remembered for a plug alone: what it holds back hangs on where the others stand.
        for plug in case.plugs:
            yield self._judge_plug(case, plug)

    def _judge_plug(self, case: Case, plug: PlacedPlug) -> Judgement:
        subject, head = plug_subject(plug), heads_of(case).at(plug.spot)
        if not case.network.work or head.pressure == 0.0:
            sentence = "No water stands over this plug, or no work is stated."
            return self.says(subject, Outcome.DOES_NOT_APPLY, "nothing to lose", sentence)
        room = {r.id: r for r in case.layout.site.rooms}.get(room_of(case, plug) or "")
        missing = [*head.missing, *_room_missing(case, plug, room)]
        if missing or head.pressure is None or room is None:
            return self.says(
                subject,
                Outcome.UNDECIDED,
                "not known",
                "How much water comes if the plug lets go is not known.",
                missing=tuple(dict.fromkeys(missing)),
                todo="State what is missing.",
            )
        loss = loss_of(case, plug, head.pressure, room)
        return self._compare(case, plug, loss, room)

    def _compare(self, case: Case, plug: PlacedPlug, loss: PlugLoss, room: Room) -> Judgement:
        limit = case.pack.number(self.name, "time_to_act")
        soonest = math.inf if loss.time_to_fill is None else loss.time_to_fill.low
        units = case.layout.units
        out = (
            "for as long as the source is on"
            if loss.kind is LossKind.SOURCE
            else f"about {rough(loss.volume, VOLUME, units)} in all"
        )
        soon = soonest < limit
        ready = case.layout.work.if_a_plug_goes if case.layout.work is not None else None
        sentence = (
            f"A lost plug lets out up to {rough(loss.flow.high, WATER_FLOW, units, 'up')} from a "
            f"head of {show_length(_to_a_foot(loss.head), units)}, {out}; "
            f"{_when(case, room, soonest, limit)}"
        )
        if soon and ready:
            sentence += f" If a plug goes: {ready}"
        unready = soon and not ready
        return self.says(
            plug_subject(plug),
            Outcome.UNDECIDED if unready else Outcome.HOLDS,
            "nobody named" if unready else "ready" if soon else "time to act",
            sentence,
            measured=Amount(soonest, Dimension.DURATION) if math.isfinite(soonest) else None,
            required=Amount(limit, Dimension.DURATION),
            missing=(
                Fact(
                    f"who stops the water, where and how, if plug {plug.id} goes",
                    "work.if_a_plug_goes",
                ),
            )
            if unready
            else (),
            todo="Post somebody at a valve upstream, have a drain or pump ready, and state it."
            if unready
            else "",
        )


def _when(case: Case, room: Room, soonest: float, limit: float) -> str:
    """Say how soon (s) a room is under water to the depth that does harm."""
    depth = show_length(room.flood_depth or 0.0, case.layout.units)
    if not math.isfinite(soonest):
        return f"that is too little for {depth} of water to stand in room {room.id}."
    shown, wanted = show_duration_pair(soonest, limit)
    return (
        f"{depth} of water stands in room {room.id} after {shown} at the soonest ({wanted} is "
        "needed)."
    )


def _to_a_foot(metres: float) -> float:
    """Round a head to a foot: it is known no better."""
    return round(metres / 0.3048) * 0.3048


def _room_missing(case: Case, plug: PlacedPlug, room: Room | None) -> list[str]:
    if room is None:
        return room_of_plug(case.layout.site, plug.id)
    missing: list[str] = []
    if not room.floor_area:
        words = f"floor area of room {room.id}"
        missing.append(Fact(words, f"site.rooms.{room.id}.floor_area"))
    if not room.flood_depth:
        words = f"depth of water that does harm in room {room.id}"
        missing.append(Fact(words, f"site.rooms.{room.id}.flood_depth"))
    return missing


def loss_of(case: Case, plug: PlacedPlug, pressure: float, room: Room) -> PlugLoss:
    """Work out what comes out if a plug lets go, into its room."""
    bore = case.dimensions_of(plug).inside_diameter
    space = Space(room.floor_area or 0.0, room.flood_depth or 0.0)
    if heads_of(case).part(plug.spot).fed:
        # Whatever else stands there, it goes on for as long as something feeds it.
        return loss_from_source(bore=bore, pressure=pressure, space=space)
    return loss_by_draining(bore=bore, layers=_layers(case, plug), space=space)


def _layers(case: Case, plug: PlacedPlug) -> list[Layer]:
    """Stack the water that stands above a plug, on the side that it holds back.

    A level pipe is taken as a layer as high as its bore. Layers lie between all the heights at
    which a pipe begins or ends; the area of each is that of all pipes that pass it.
    """
    network, base = case.network, case.network.elevation_at(plug.spot)
    rows: list[tuple[float, float, float]] = []
    for piece, bottom, top, length in _held_stretches(case, plug):
        bore = network.dimensions[network.pieces[piece].element].inside_diameter
        low, high = bottom - base, max(top, bottom + bore) - base
        volume = math.pi * bore**2 / 4 * length
        if high > 0.0 and volume > 0.0:
            rows.append((max(low, 0.0), high, volume / (high - low)))
    marks = sorted({m for low, high, _ in rows for m in (low, high)})
    layers = []
    for low, high in pairwise(marks):
        area = sum(a for bottom, top, a in rows if bottom <= low and top >= high)
        if area > 0.0 and high > low:
            layers.append(Layer(low, high, area))
    return layers


def _held_stretches(case: Case, plug: PlacedPlug) -> Iterator[tuple[int, float, float, float]]:
    """Give what a plug holds back: (piece, bottom (m), top (m), length (m)).

    Of the plug's own piece that is what lies from the plug to the end that it holds back.
    """
    network, held = case.network, _held_nodes(case, plug)
    here = network.elevation_at(plug.spot)
    for piece in network.pieces:
        if piece.kind is not PieceKind.PIPE or not (held[piece.u] or held[piece.v]):
            continue
        ends = [float(network.elevation[n]) for n in (piece.u, piece.v)]
        length = piece.length
        if piece.index == plug.spot.piece and held[piece.u] != held[piece.v]:
            ends[1 if held[piece.u] else 0] = here
            length = plug.spot.offset if held[piece.u] else piece.length - plug.spot.offset
        elif not (held[piece.u] and held[piece.v]):
            continue
        yield piece.index, min(ends), max(ends), length


def _held_nodes(case: Case, plug: PlacedPlug) -> np.ndarray:
    """Find the nodes that a plug holds back: connected with its pipe but not with the work."""
    world = case.worlds.working(Trust.PROVEN)
    work = case.network.work_nodes
    others = sorted({p.spot.piece for p in case.others(plug)})
    with_plug = reached(world, [*others, plug.spot.piece], work)
    without = reached(world, others, work)
    held: np.ndarray = without & ~with_plug
    return held
