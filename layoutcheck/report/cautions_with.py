"""The cautions with what a coolant asks for besides."""

from __future__ import annotations

from collections.abc import Iterable

from layoutcheck.physics.air import CONDENSED_AIR_CAUTION
from layoutcheck.quantities.spoken import CoolantName
from layoutcheck.report.cautions import CAUTIONS


def cautions_with(coolants: Iterable[CoolantName]) -> tuple[str, ...]:
    """Give the cautions; where liquid nitrogen is used, that of condensed air too."""
    rich = CoolantName.NITROGEN in coolants
    return (*CAUTIONS, f"Oxygen: {CONDENSED_AIR_CAUTION}") if rich else CAUTIONS
