"""How distances are measured: a figure that belongs to no single rule."""

from __future__ import annotations

from layoutcheck.rules.base import COMMON_PRACTICE
from layoutcheck.rules.outcome import Dimension
from layoutcheck.rules.pack import Figure, Tighter

BASIS = Figure(
    key="basis",
    built_in="jacket end",
    dimension=Dimension.COUNT,
    tighter=Tighter.MORE,
    source=COMMON_PRACTICE,
    meaning="Distances are measured from the 'jacket end' or, looser, from the 'jacket centre'.",
    choices=("jacket end", "jacket centre"),
)
