"""The allowed of a plug as stretches of pipes: what is clear, and which rules shut out the rest."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from layoutcheck.network.stretches import TOLERANCE, complement
from layoutcheck.placement.allowed import Allowed


@dataclass(frozen=True)
class ClearStretch:
    """A stretch of one pipe (stations in m) where the plug's centre passes every rule."""

    pipe: str
    start: float
    end: float

    @property
    def room(self) -> float:
        """Give the length (m) of the stretch."""
        return self.end - self.start


@dataclass(frozen=True)
class ShutOut:
    """A stretch of one pipe (stations in m) and the rules that shut the plug out of it."""

    pipe: str
    start: float
    end: float
    rules: tuple[str, ...]


def clear_list(allowed: Allowed) -> tuple[ClearStretch, ...]:
    """Give the clear stretches, over joints of their pipes."""
    found: list[ClearStretch] = []
    rows = []
    for place in range(len(allowed.pieces)):
        intervals = allowed.clear(place)
        if intervals:
            piece = allowed.case.network.pieces[int(allowed.pieces[place])]
            rows += [(piece.element, piece.start + a, piece.start + b) for a, b in intervals]
    for pipe, start, end in sorted(rows):
        last = found[-1] if found else None
        if last is not None and last.pipe == pipe and start - last.end <= TOLERANCE:
            found[-1] = ClearStretch(pipe, last.start, max(last.end, end))
        else:
            found.append(ClearStretch(pipe, start, end))
    return tuple(found)


def shut_list(allowed: Allowed) -> tuple[ShutOut, ...]:
    """Say which rules shut out which stretch, on the pieces that would isolate the work."""
    names = sorted(allowed.by_rule)
    length = allowed.case.network.length[allowed.pieces]
    stretches = [allowed.by_rule[name] for name in names]
    shut = np.array([s.low > s.high + 2 * TOLERANCE for s in stretches])
    free = np.array([(s.low <= TOLERANCE) & (length - s.high <= TOLERANCE) for s in stretches])
    # Nearly all of a site is left alone by a rule or shut wholly; the rest is cut up one by one.
    wholly = (shut | free).all(axis=0) & (length > TOLERANCE)
    wholly[[place for s in stretches for place in s.split]] = False
    rows = list(_wholly_shut(allowed, names, shut, np.flatnonzero(wholly & shut.any(axis=0))))
    for place in np.flatnonzero(~wholly).tolist():
        rows += _cut_up(allowed, place)
    return _merged(sorted(rows, key=lambda r: (r.pipe, r.start, r.end)))


def _wholly_shut(
    allowed: Allowed, names: Sequence[str], shut: np.ndarray, places: np.ndarray
) -> Iterator[ShutOut]:
    """Give each of some pieces as one stretch, with the rules that shut it (rules, pieces)."""
    kinds, kind_of = np.unique(shut[:, places], axis=1, return_inverse=True)
    rules = [tuple(n for n, own in zip(names, k, strict=True) if own) for k in kinds.T.tolist()]
    pieces, chosen = allowed.case.network.pieces, allowed.pieces[places]
    starts, lengths = pieces.start[chosen], pieces.length[chosen]
    rows = zip(
        chosen.tolist(), starts.tolist(), (starts + lengths).tolist(), kind_of.tolist(), strict=True
    )
    for piece, start, end, kind in rows:
        yield ShutOut(pieces.elements[piece], start, end, rules[kind])


def _cut_up(allowed: Allowed, place: int) -> Iterator[ShutOut]:
    """Give the stretches of one piece that some rule shuts out."""
    piece = allowed.case.network.pieces[int(allowed.pieces[place])]
    gaps = {
        name: complement(stretches.of(place), piece.length)
        for name, stretches in allowed.by_rule.items()
    }
    marks = sorted({0.0, piece.length, *(m for g in gaps.values() for ab in g for m in ab)})
    for low, high in pairwise(marks) if len(marks) > 1 else [(0.0, 0.0)]:
        middle = (low + high) / 2
        rules = tuple(n for n, g in sorted(gaps.items()) if any(a <= middle <= b for a, b in g))
        if rules and (high - low > TOLERANCE or piece.length <= TOLERANCE):
            yield ShutOut(piece.element, piece.start + low, piece.start + high, rules)


def _merged(rows: list[ShutOut]) -> tuple[ShutOut, ...]:
    found: list[ShutOut] = []
    for row in rows:
        last = found[-1] if found else None
        same = last is not None and last.pipe == row.pipe and last.rules == row.rules
        if last is not None and same and row.start - last.end <= TOLERANCE:
            found[-1] = ShutOut(row.pipe, last.start, row.end, row.rules)
        else:
            found.append(row)
    return tuple(found)
