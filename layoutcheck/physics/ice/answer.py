"""One pipe without a layout: the freeze as a report with its own JSON schema, in SI."""

from __future__ import annotations

import math
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from layoutcheck.physics.coolant import Coolant
from layoutcheck.physics.ice.answer_types import FreezeAnswer, FreezeOutcome, IceCourse
from layoutcheck.physics.ice.assumptions import CAUTIONS, STATEMENT
from layoutcheck.physics.ice.closure import Orientation
from layoutcheck.physics.ice.inputs import FreezeInputs
from layoutcheck.physics.ranges import Range
from layoutcheck.quantities.materials import Material


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class RangeReport(_Part):
    """One quantity in the low, the likely and the high case."""

    low: float
    likely: float
    high: float
    unit: str


class PipeReport(_Part):
    """What was asked, in SI."""

    outside_diameter_m: float
    wall_m: float
    material: Material
    coolant: Coolant
    jacket_length_m: float
    start_temperature_k: float
    ambient_temperature_k: float
    orientation: Orientation
    column_below_m: float | None
    needed_solid_length_m: float
    jacket_conductance: RangeReport
    ambient_conductance: RangeReport


class CourseReport(_Part):
    """One case over time. Positions from the jacket's middle; below it where the pipe rises."""

    case: Literal["low", "likely", "high"]
    times_s: tuple[float, ...]
    positions_m: tuple[float, ...]
    open_radii_m: tuple[tuple[float, ...], ...] = Field(
        description="radius of the bore still open: one row for each time"
    )
    surface_k: tuple[tuple[float, ...], ...] = Field(
        description="temperature of the pipe's outside, as the radii"
    )
    frost_m: tuple[tuple[float | None, float | None], ...] = Field(
        description="bare pipe at or below freezing beyond each end of the jacket, the one above "
        "first; null where it goes beyond the pipe that is modelled"
    )
    heat_taken_j: tuple[float, ...]
    heat_rate_w: tuple[float, ...]


class FreezeReport(_Part):
    """The estimate of one freeze, its hold and its thaw. A missing range means: not known."""

    format: Literal["layoutcheck freeze report 1"] = "layoutcheck freeze report 1"
    statement: str = STATEMENT
    outcome: FreezeOutcome
    reason: str
    pipe: PipeReport
    missing: tuple[str, ...] = ()
    time_to_first_ice: RangeReport | None = None
    time_to_neck_closed: RangeReport | None = None
    time_to_plug: RangeReport | None = None
    heat_taken: RangeReport | None = None
    heat_rate_at_plug: RangeReport | None = None
    hold_heat_rate: RangeReport | None = None
    frost_band_at_plug: RangeReport | None = None
    frost_band_in_hold: RangeReport | None = None
    ice_volume_at_plug: RangeReport | None = None
    ice_volume_in_hold: RangeReport | None = None
    solid_length_in_hold: RangeReport | None = None
    time_to_release: RangeReport | None = None
    time_to_thaw: RangeReport | None = None
    courses: tuple[CourseReport, ...] = ()
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS


def freeze_pipe(inputs: FreezeInputs) -> FreezeReport:
    """Estimate one freeze and report it.

    Parameters:
        inputs: one pipe, one jacket, one coolant.

    Returns:
        The report. That the pipe does not close, or that it can not be decided, is an answer.

    Raises:
        HeatBalanceError: the solver lost heat; a fault of this tool.
    """
    # The solver is loaded only when a freeze is really asked for.
    from layoutcheck.physics.ice.model import freeze_answer  # noqa: PLC0415

    return report_of(freeze_answer(inputs))


def report_of(answer: FreezeAnswer) -> FreezeReport:
    """Turn an answer into its report, without computing anything."""
    return FreezeReport(
        outcome=answer.outcome,
        reason=answer.reason,
        pipe=_pipe(answer.inputs, answer.needed_solid_length),
        missing=answer.missing,
        time_to_first_ice=_range(answer.time_to_first_ice, "s"),
        time_to_neck_closed=_range(answer.time_to_neck_closed, "s"),
        time_to_plug=_range(answer.time_to_plug, "s"),
        heat_taken=_range(answer.heat_taken, "J"),
        heat_rate_at_plug=_range(answer.heat_rate_at_plug, "W"),
        hold_heat_rate=_range(answer.hold_heat_rate, "W"),
        frost_band_at_plug=_range(answer.frost_band_at_plug, "m"),
        frost_band_in_hold=_range(answer.frost_band_in_hold, "m"),
        ice_volume_at_plug=_range(answer.ice_volume_at_plug, "m3"),
        ice_volume_in_hold=_range(answer.ice_volume_in_hold, "m3"),
        solid_length_in_hold=_range(answer.solid_length_in_hold, "m"),
        time_to_release=_range(answer.time_to_release, "s"),
        time_to_thaw=_range(answer.time_to_thaw, "s"),
        courses=tuple(_course(one) for one in answer.courses),
        assumptions=answer.assumptions,
    )


def _range(of: Range | None, unit: str) -> RangeReport | None:
    if of is None:
        return None
    return RangeReport(low=of.low, likely=of.likely, high=of.high, unit=unit)


def _stated(of: Range, unit: str) -> RangeReport:
    return RangeReport(low=of.low, likely=of.likely, high=of.high, unit=unit)


def _pipe(inputs: FreezeInputs, needed: float) -> PipeReport:
    return PipeReport(
        outside_diameter_m=inputs.outside_diameter,
        wall_m=inputs.wall,
        material=inputs.material,
        coolant=inputs.coolant,
        jacket_length_m=inputs.jacket_length,
        start_temperature_k=inputs.start_temperature,
        ambient_temperature_k=inputs.ambient_temperature,
        orientation=inputs.orientation,
        column_below_m=inputs.column_below,
        needed_solid_length_m=needed,
        jacket_conductance=_stated(inputs.conductance, "W/(m2 K)"),
        ambient_conductance=_stated(inputs.ambient_conductance, "W/(m2 K)"),
    )


def _course(of: IceCourse) -> CourseReport:
    return CourseReport.model_validate(
        {
            "case": of.case,
            "times_s": of.times,
            "positions_m": of.positions,
            "open_radii_m": of.open_radii,
            "surface_k": of.surface,
            "frost_m": [[x if math.isfinite(x) else None for x in ends] for ends in of.frost],
            "heat_taken_j": of.heat,
            "heat_rate_w": of.rate,
        }
    )
