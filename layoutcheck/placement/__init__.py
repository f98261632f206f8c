"""Where plugs are proposed to stand, as people read it off a tape."""

from layoutcheck.placement.tape import Reading, away_from, read_alike, read_into

__all__ = ["Reading", "away_from", "read_alike", "read_into"]
