"""Times of a log as seconds from the first injection."""

from __future__ import annotations

from layoutcheck.report.log.model import Clock, FreezeLog, Line

DAY = 86400
# A reading without its day that lies this far after the first injection is of the day before it:
# something done shortly before the start. Longer jobs write the day.
_BEFORE = 20 * 3600

# Clocks are read to the minute.
MINUTE = 60.0


class Timeline:
    """The log's clock: its zero is the earliest first injection that is written."""

    def __init__(self, log: FreezeLog) -> None:
        """Find the zero."""
        self._log = log
        firsts = [
            row.began
            for row in log.rows
            if row.what is Line.INJECT and row.number == 1 and row.began is not None
        ]
        self._zero = firsts[0] if firsts else None
        if firsts:
            self._zero = min(firsts, key=lambda clock: self.at(clock) or 0.0)

    @property
    def starts(self) -> bool:
        """Tell whether a first injection is written."""
        return self._zero is not None

    def at(self, clock: Clock | None) -> float | None:
        """Give a reading as s from the first injection; None where either is not written."""
        zero = self._zero
        if clock is None or zero is None:
            return None
        passed = float(clock.seconds - zero.seconds)
        if clock.day is not None and zero.day is not None:
            return passed + DAY * (clock.day - zero.day).days
        passed %= DAY
        return passed - DAY if passed > _BEFORE else passed

    def of(self, what: Line, plug: str | None = None) -> float | None:
        """Give when something of the whole job, or of a plug, was done."""
        rows = [r for r in self._log.rows if r.what is what and r.plug == plug]
        return next((t for r in rows if (t := self.at(r.began)) is not None), None)
