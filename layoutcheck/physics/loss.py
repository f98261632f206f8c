"""If one plug lets go: how much water, how fast, and how soon it fills the space below.

Torricelli's outflow through the full bore: `Q = Cd A sqrt(2 g h)`. Friction along the pipe is not
counted, so the flow is on the high side. Either a source keeps the head up, or the water above the
plug runs down. Standing water is a stack of layers, each of one cross-section; the time to lower a
layer is exact.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from layoutcheck.physics.figures import (
    Figure,
    Status,
    require_not_negative,
    require_positive,
)
from layoutcheck.physics.ranges import Range

GRAVITY = Figure(9.80665, "m/s2", "standard gravity, CGPM 1901", Status.DEFINED)
WATER_DENSITY = Figure(1000.0, "kg/m3", "cold water, rounded up", Status.MEMORY)
DISCHARGE = Range(0.6, 0.8, 1.0)
"""Discharge coefficient: sharp edge, short tube, no loss at all. Handbook values, from memory."""

_ROUNDING = 1e-12
_TOUCHING = 1e-9  # m; heights in feet and inches do not meet to the last digit


class LossKind(StrEnum):
    """What feeds the outflow."""

    SOURCE = "a source that keeps its pressure"
    DRAINING = "the water standing above"


@dataclass(frozen=True, slots=True)
class Layer:
    """Water standing between two heights, with one horizontal cross-section.

    Parameters:
        bottom: height above the opening, m.
        top: m, above the bottom.
        area: horizontal, of all pipes and tanks that drain at this height together, m2.
    """

    bottom: float
    top: float
    area: float

    def __post_init__(self) -> None:
        """Refuse a layer of no size, or below the opening."""
        require_not_negative(bottom=self.bottom)
        require_positive(area=self.area, height=self.top - self.bottom)

    @property
    def volume(self) -> float:
        """Water in the layer, m3."""
        return self.area * (self.top - self.bottom)


@dataclass(frozen=True, slots=True)
class Space:
    """A space that the water runs into.

    Parameters:
        floor_area: free floor, m2.
        depth: of water that does harm, m.
    """

    floor_area: float
    depth: float

    def __post_init__(self) -> None:
        """Refuse a space of no size."""
        require_positive(floor_area=self.floor_area, depth=self.depth)

    @property
    def volume(self) -> float:
        """Water that fills it to the depth, m3."""
        return self.floor_area * self.depth


@dataclass(frozen=True, slots=True)
class PlugLoss:
    """What comes out if one plug lets go.

    Parameters:
        kind: what feeds it.
        head: at the opening at first, m of water.
        speed: of the water at first, without loss, m/s.
        flow: at first, m3/s.
        volume: that comes out in all, m3; infinite from a source.
        time_to_fill: until the space is filled to the depth, s; infinite if never. None without a
            stated space. Low is soonest.
        time_to_drain: until nothing more comes, s; infinite from a source.
    """

    kind: LossKind
    head: float
    speed: float
    flow: Range
    volume: float
    time_to_fill: Range | None
    time_to_drain: Range


def head_from_pressure(pressure: float) -> float:
    """Height of water that a gauge pressure stands for.

    Parameters:
        pressure: Pa gauge; below zero counts as none.

    Returns:
        m of water; nan for a pressure of nan. Source: calculated.
    """
    # In this order: max() of a number and nan gives the first, and nan must not become nought.
    return max(pressure, 0.0) / (WATER_DENSITY.value * GRAVITY.value)


def outflow(*, bore: float, head: float, coefficient: float) -> float:
    """Flow through an open bore.

    Parameters:
        bore: inside diameter, m.
        head: of water at the opening, m.
        coefficient: of discharge, above 0 and up to 1.

    Returns:
        m3/s.

    Raises:
        ValueError: a size or coefficient out of range.

    Source: Torricelli's law; calculated.
    """
    require_positive(bore=bore, coefficient=coefficient)
    require_not_negative(head=head)
    if coefficient > 1.0:
        raise ValueError(f"no opening gives more than Torricelli's flow, found {coefficient}")
    return coefficient * _area(bore) * math.sqrt(2.0 * GRAVITY.value * head)


def loss_from_source(
    *, bore: float, pressure: float, space: Space | None = None, coefficient: Range = DISCHARGE
) -> PlugLoss:
    """Work out the loss while a source keeps its pressure at the opening.

    Parameters:
        bore: inside diameter, m.
        pressure: at the opening, Pa gauge.
        space: that fills, or None.
        coefficient: of discharge.

    Returns:
        The loss; it has no end of its own.

    Raises:
        ValueError: as in `outflow`.
    """
    head = head_from_pressure(pressure)
    flow = coefficient.map(lambda value: outflow(bore=bore, head=head, coefficient=value))
    fill = None
    if space is not None:
        wanted = space.volume
        fill = flow.map(lambda rate: wanted / rate if rate > 0.0 else math.inf)
    return PlugLoss(
        kind=LossKind.SOURCE,
        head=head,
        speed=math.sqrt(2.0 * GRAVITY.value * head),
        flow=flow,
        volume=math.inf if head > 0.0 else 0.0,
        time_to_fill=fill,
        time_to_drain=Range.exactly(math.inf if head > 0.0 else 0.0),
    )


def loss_by_draining(
    *,
    bore: float,
    layers: Sequence[Layer],
    space: Space | None = None,
    coefficient: Range = DISCHARGE,
) -> PlugLoss:
    """Work out the loss while the water standing above runs down.

    Air is taken to get in freely at the top; a closed top would slow it down.

    Parameters:
        bore: inside diameter of the opening, m.
        layers: of water above it, in any order, without overlap. Empty: nothing comes.
        space: that fills, or None.
        coefficient: of discharge.

    Returns:
        The loss.

    Raises:
        ValueError: layers that overlap, or as in `outflow`.
    """
    require_positive(bore=bore)
    stack = sorted(layers, key=lambda layer: layer.bottom, reverse=True)
    for upper, lower in itertools.pairwise(stack):
        if lower.top > upper.bottom + _TOUCHING:
            raise ValueError("two layers of water overlap")
    head = stack[0].top if stack else 0.0
    volume = math.fsum(layer.volume for layer in stack)
    fill = None
    if space is not None:
        fill = _time_range(bore=bore, stack=stack, volume=space.volume, coefficient=coefficient)
    return PlugLoss(
        kind=LossKind.DRAINING,
        head=head,
        speed=math.sqrt(2.0 * GRAVITY.value * head),
        flow=coefficient.map(lambda value: outflow(bore=bore, head=head, coefficient=value)),
        volume=volume,
        time_to_fill=fill,
        time_to_drain=_time_range(bore=bore, stack=stack, volume=volume, coefficient=coefficient),
    )


def _area(bore: float) -> float:
    return 0.25 * math.pi * bore**2


def _parts(stack: Sequence[Layer], volume: float) -> Iterator[Layer]:
    """Cut from the top of a stack the layers that hold a volume."""
    left = volume
    for layer in stack:
        if left <= 0.0:
            return
        # A remainder of the rounding would count as much time as its square root.
        if left >= layer.volume * (1.0 - _ROUNDING):
            yield layer
        elif (bottom := layer.top - left / layer.area) < layer.top:
            yield Layer(bottom, layer.top, layer.area)
        left -= layer.volume


def _time_range(*, bore: float, stack: Sequence[Layer], volume: float, coefficient: Range) -> Range:
    """Time until a volume has come out; infinite if there is not that much."""
    available = math.fsum(layer.volume for layer in stack)
    if volume > available * (1.0 + _ROUNDING):
        return Range.exactly(math.inf)
    # A layer falls by dh/dt = -(Cd a / A) sqrt(2 g h), hence the difference of roots.
    lossless = math.fsum(
        part.area
        / _area(bore)
        * math.sqrt(2.0 / GRAVITY.value)
        * (math.sqrt(part.top) - math.sqrt(part.bottom))
        for part in _parts(stack, volume)
    )
    return coefficient.map(lambda value: lossless / value)
