"""Where a plug may stand: clear stretches, what shuts out the rest, and the nearest place."""

from layoutcheck.locate.nearest import (
    ClearStretch,
    Placing,
    Proposal,
    ShutOut,
    clear_at,
    place_plug,
)

__all__ = ["ClearStretch", "Placing", "Proposal", "ShutOut", "clear_at", "place_plug"]
