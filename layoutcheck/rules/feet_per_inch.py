"""The trade's setback: a length of pipe for each inch of nominal size, shared by several rules."""

from __future__ import annotations

from typing import ClassVar

import numpy as np

from layoutcheck.rules.base import COMMON_PRACTICE, SetbackRule
from layoutcheck.rules.case import Case
from layoutcheck.rules.outcome import Dimension
from layoutcheck.rules.pack import Figure, Tighter

PER_INCH = "per_inch"


def per_inch_figure(of_what: str) -> Figure:
    """Declare the figure: so much pipe, for each inch of nominal size, to some feature."""
    return Figure(
        key=PER_INCH,
        built_in="12 in",
        dimension=Dimension.LENGTH,
        tighter=Tighter.MORE,
        source=COMMON_PRACTICE,
        meaning=f"Length of pipe for each inch of nominal size, to {of_what}.",
    )


class PerInchRule(SetbackRule):
    """A setback that grows with the nominal size of the frozen pipe."""

    severity: ClassVar = SetbackRule.severity

    def required(self, case: Case, inches: np.ndarray) -> np.ndarray:
        """Give the setback (m) by nominal size (inches)."""
        return inches * case.pack.number(self.name, PER_INCH)
