"""Where plugs may stand: what rules allow, the nearest place, and how people read it off a tape."""

from layoutcheck.network.tape import Reading, away_from, read_alike, read_into
from layoutcheck.placement.nearest import Placing, Proposal, clear_at, place_plug
from layoutcheck.placement.told import ClearStretch, ShutOut

__all__ = [
    "ClearStretch",
    "Placing",
    "Proposal",
    "Reading",
    "ShutOut",
    "away_from",
    "clear_at",
    "place_plug",
    "read_alike",
    "read_into",
]
