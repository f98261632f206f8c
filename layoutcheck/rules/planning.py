"""What plans are ranked by: figures that belong to no rule. They are preferences, not safety."""

from __future__ import annotations

from layoutcheck.rules.base import COMMON_PRACTICE
from layoutcheck.rules.outcome import Dimension
from layoutcheck.rules.pack import Figure, Pack, Tighter

PLANNING = "planning"

# A point is worth about a crew's quarter of an hour; only the ratios of the figures matter.
_CHOICE = "our own choice: a preference that ranks plans, not a safety figure"


def _points(key: str, built_in: float, meaning: str) -> Figure:
    return Figure(key, built_in, Dimension.COUNT, Tighter.NEITHER, _CHOICE, meaning)


WEIGHTS = (
    _points("plug", 10.0, "Points for each plug."),
    _points("plug_inch", 3.0, "Points for each inch of nominal size of a plug's pipe."),
    _points("off_mark", 1.0, "Points for a plug on a pipe without a mark, if there are marks."),
    _points("valve", 1.0, "Points for each valve to close."),
    _points("trusted_valve", 3.0, "Points for each valve that is yet to be proven tight."),
    _points("outlet_action", 0.5, "Points for each outlet to lock off or keep open."),
    _points("outlet_out_of_service", 2.0, "Points for each outlet without water at work."),
    _points("machine", 2.0, "Points for each pump to lock off, or heater or cooler to shut down."),
    _points("drained", 100.0, "Points for each cubic metre of water that drains at the work."),
    _points("coolant", 0.0, "Points for each kilogram of coolant (it grows with plug_inch)."),
    _points("hour", 0.0, "Points for each hour until the line is open (grows with plug_inch)."),
)

JACKET = Figure(
    key="jacket_per_inch",
    built_in="6 in",
    dimension=Dimension.LENGTH,
    tighter=Tighter.NEITHER,
    source=COMMON_PRACTICE,
    meaning="Length of a plan's jackets for each inch of nominal size, where no mark says.",
)
LEAST_JACKET = Figure(
    key="least_jacket",
    built_in="12 in",
    dimension=Dimension.LENGTH,
    tighter=Tighter.NEITHER,
    source=COMMON_PRACTICE,
    meaning="Shortest jacket in a plan, where no mark says.",
)
FIGURES = (*WEIGHTS, JACKET, LEAST_JACKET)


def jacket_of(pack: Pack, inches: float) -> float:
    """Give the length (m) of a plan's jacket by a pack, for a nominal size (inches)."""
    per_inch = pack.number(PLANNING, JACKET.key)
    return max(pack.number(PLANNING, LEAST_JACKET.key), per_inch * inches)
