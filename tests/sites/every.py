"""All demo sites."""

from __future__ import annotations

from tests.sites import chilled_loop, cold_riser, heating_riser
from tests.sites.builder import Demo

DEMOS: tuple[Demo, ...] = (
    heating_riser.DEMO,
    cold_riser.DEMO,
    chilled_loop.DEMO,
)
