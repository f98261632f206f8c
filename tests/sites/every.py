"""All demo sites."""

from __future__ import annotations

from tests.sites import (
    chilled_loop,
    cold_riser,
    heating_riser,
    metric_block,
    no_drawing,
    plant_room,
    process_header,
    ring_main,
)
from tests.sites.builder import Demo

DEMOS: tuple[Demo, ...] = (
    heating_riser.DEMO,
    cold_riser.DEMO,
    chilled_loop.DEMO,
    ring_main.DEMO,
    plant_room.DEMO,
    process_header.DEMO,
    no_drawing.DEMO,
    metric_block.DEMO,
)
