"""A picture of one freeze: ice thickness over time, and the shape of the plug at several moments.

Uses matplotlib's figure objects directly (no shared state) and leaves out dates and random names,
so the same answer gives the same bytes with the same matplotlib.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

import matplotlib
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from layoutcheck.physics.ice.assumptions import STATEMENT
from layoutcheck.quantities.shown import UnitSystem

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from layoutcheck.physics.ice.answer_types import FreezeAnswer, IceCourse

_SHAPES = 5
_INK, _ICE, _BAND, _JACKET = "#1b2a3a", "#2a6f97", "#a9cfe4", "#8d99a6"


@dataclass(frozen=True, slots=True)
class _Scale:
    """How lengths and temperatures are written on the axes and in the title."""

    unit: str
    per_metre: float
    outside: str
    degrees: str
    per_kelvin: float
    nought: float

    def temperature(self, kelvin: float) -> str:
        """Write a temperature (K)."""
        return f"{(kelvin - self.nought) * self.per_kelvin:.0f} {self.degrees}"


_SCALES = {
    UnitSystem.METRIC: _Scale("mm", 1e3, "{:.1f} mm", "degC", 1.0, 273.15),
    UnitSystem.IMPERIAL: _Scale("in", 1.0 / 0.0254, "{:.3f} in", "degF", 1.8, 459.67 / 1.8),
}


def freeze_figure(answer: FreezeAnswer, units: UnitSystem = UnitSystem.METRIC) -> Figure:
    """Draw an answer.

    Parameters:
        answer: of `freeze_answer`. Without courses (nothing was computed) the reason is shown.
        units: of lengths and temperatures.

    Returns:
        A figure with the thickness over time on the left and the profile on the right.
    """
    scale = _SCALES[units]
    figure = Figure(figsize=(10.0, 4.6), layout="constrained")
    figure.suptitle(f"{_title(answer, scale)}\n{STATEMENT}", fontsize=10, color=_INK)
    if not answer.courses:
        axes = figure.add_subplot()
        axes.set_axis_off()
        axes.text(0.5, 0.5, answer.reason, ha="center", va="center", wrap=True)
        return figure
    left, right = figure.subplots(1, 2)
    _draw_thickness(left, answer, scale)
    _draw_profile(right, answer, scale)
    return figure


def freeze_svg(answer: FreezeAnswer, units: UnitSystem = UnitSystem.METRIC) -> bytes:
    """Draw an answer as SVG; the same answer gives the same bytes."""
    out = io.BytesIO()
    with matplotlib.rc_context({"svg.hashsalt": "layoutcheck", "svg.fonttype": "path"}):
        figure = freeze_figure(answer, units)
        FigureCanvasSVG(figure).print_figure(
            out, format="svg", metadata={"Date": None, "Creator": "layoutcheck"}
        )
    return out.getvalue()


def freeze_png(
    answer: FreezeAnswer, units: UnitSystem = UnitSystem.METRIC, *, dots_per_inch: int = 120
) -> bytes:
    """Draw an answer as PNG; the same answer gives the same bytes."""
    out = io.BytesIO()
    figure = freeze_figure(answer, units)
    FigureCanvasAgg(figure).print_figure(
        out, format="png", dpi=dots_per_inch, metadata={"Software": "layoutcheck"}
    )
    return out.getvalue()


def _title(answer: FreezeAnswer, scale: _Scale) -> str:
    inputs = answer.inputs
    return (
        f"{scale.outside.format(scale.per_metre * inputs.outside_diameter)} "
        f"{inputs.material.value} pipe, "
        f"{inputs.orientation.value}, {inputs.coolant.value}, water from "
        f"{scale.temperature(inputs.start_temperature)}: {answer.outcome.value}"
    )


def _draw_thickness(axes: Axes, answer: FreezeAnswer, scale: _Scale) -> None:
    """Thickness where the neck closes: likely, within the band from low to high."""
    low, likely, high = answer.courses
    bore, long = answer.inputs.inside_radius, scale.per_metre
    levels = np.linspace(0.0, 1.0, 60)
    fast, slow = _time_of(low, bore, levels), _time_of(high, bore, levels)
    if answer.time_to_neck_closed is not None:
        # The courses are bare; the ends of the range carry the model's error as well.
        fast = fast * answer.time_to_neck_closed.low / fast[-1]
        slow = slow * answer.time_to_neck_closed.high / slow[-1]
        axes.fill_betweenx(
            long * bore * levels,
            fast / 60.0,
            slow / 60.0,
            color=_BAND,
            linewidth=0,
            label="low to high",
        )
    else:
        for course, style in ((low, ":"), (high, "--")):
            axes.plot(*_thickness(course, bore, long), style, color=_ICE, label=course.case)
    axes.plot(*_thickness(likely, bore, long), color=_ICE, linewidth=2.0, label="likely")
    axes.axhline(long * bore, color=_INK, linewidth=0.8, linestyle="--", label="bore closed")
    axes.set_xlabel("time from start of cooling (min)")
    axes.set_ylabel(f"greatest ice thickness ({scale.unit})")
    axes.set_xlim(0.0, 1.05 * min(float(slow[-1]), 5.0 * likely.times[-1]) / 60.0)
    axes.set_ylim(0.0, 1.08 * long * bore)
    axes.legend(loc="lower right", fontsize=8, frameon=False)


def _thickness(course: IceCourse, bore: float, long: float) -> tuple[list[float], list[float]]:
    minutes = [time / 60.0 for time in course.times]
    return minutes, [long * (bore - min(row)) for row in course.open_radii]


def _time_of(course: IceCourse, bore: float, levels: np.ndarray) -> np.ndarray:
    """Time at which the ice first reaches each share of the bore, s; else the last time."""
    shares = np.maximum.accumulate([1.0 - min(row) / bore for row in course.open_radii])
    rising = shares + 1e-9 * np.arange(shares.size)
    return np.asarray(np.interp(levels, rising, course.times))


def _draw_profile(axes: Axes, answer: FreezeAnswer, scale: _Scale) -> None:
    """The open bore along the pipe in the likely case."""
    course, inputs, long = answer.courses[1], answer.inputs, scale.per_metre
    bore = long * inputs.inside_radius
    half = 0.5 * long * inputs.jacket_length
    axes.axvspan(-half, half, color=_JACKET, alpha=0.18, linewidth=0, label="jacket")
    z = np.asarray(course.positions) * long
    chosen = np.unique(np.linspace(0, len(course.times) - 1, _SHAPES + 1).round().astype(int))[1:]
    for number, index in enumerate(chosen):
        radii = long * np.asarray(course.open_radii[index])
        shade = 0.25 + 0.75 * (number + 1) / chosen.size
        label = f"{course.times[index] / 60.0:.0f} min"
        axes.plot(z, radii, color=_ICE, alpha=shade, linewidth=1.4, label=label)
        axes.plot(z, -radii, color=_ICE, alpha=shade, linewidth=1.4)
    last = long * np.asarray(course.open_radii[-1])
    outer = 0.5 * long * inputs.outside_diameter
    for side in (1.0, -1.0):
        axes.fill_between(z, side * last, side * bore, color=_BAND, alpha=0.6, linewidth=0)
        axes.axhspan(side * bore, side * outer, color=_INK, linewidth=0)
    reach = half + 3.0 * long * inputs.outside_diameter
    axes.set_xlim(-reach, reach)
    axes.set_ylim(-1.9 * bore, 1.25 * bore)
    axes.set_xlabel(f"along the pipe from the jacket's middle ({scale.unit})")
    axes.set_ylabel(f"edge of the ice, likely case ({scale.unit})")
    axes.legend(loc="lower center", fontsize=8, ncols=3, framealpha=0.9)
