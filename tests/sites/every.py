"""All demo sites."""

from __future__ import annotations

from tests.sites import heating_riser
from tests.sites.builder import Demo

DEMOS: tuple[Demo, ...] = (heating_riser.DEMO,)
