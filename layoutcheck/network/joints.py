"""What interrupts the straight pipe at each node: fittings, tees, bends, changes, ends.

Asked of every junction at once, by columns; a joint of two like pipes is looked at by itself. The
words are made when they are asked for.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import IntFlag

import numpy as np

from layoutcheck.document.models import FittingKind, Junction, Pipe
from layoutcheck.document.paths import Positions, turn_between

# A joint drawn with a turn of more than this (degrees) is a bend.
BEND_DEGREES = 5.0

# A pipe that rises by this share of its length is plumb; one that rises by less than the other is
# surely not, so that the two can not meet in line. What lies between is left to the drawing.
_PLUMB = 0.99
_LEANING = 0.70

PLAIN_FITTINGS = frozenset({None, FittingKind.WELD})


class Joint(IntFlag):
    """Why a jacket may not lie across a joint."""

    FITTING = 1
    DEFECTIVE = 2
    TEE = 4
    END = 8
    CHANGE = 16
    BEND = 32


_WORDS = {
    Joint.DEFECTIVE: "defective joint",
    Joint.TEE: "tee",
    Joint.END: "end of the pipe at",
    Joint.CHANGE: "change of pipe at",
    Joint.BEND: "bend at",
}


@dataclass(frozen=True, eq=False)
class Interruptions(Mapping[int, tuple[str, ...]]):
    """By node: what interrupts the pipe there, in words.

    noted: what stands on pipes, at junctions and at the work. junctions: of each node at a
    junction. joints: (junctions,) Joint flags. nodes: all that are interrupted, in order.
    """

    noted: Mapping[int, Sequence[str]]
    junctions: Sequence[Junction]
    joints: np.ndarray
    nodes: np.ndarray

    @classmethod
    def of(
        cls,
        noted: Mapping[int, Sequence[str]],
        junctions: Sequence[Junction],
        joints: np.ndarray,
    ) -> Interruptions:
        """Gather what is noted and what the joints are."""
        there = np.fromiter((n for n, texts in noted.items() if texts), dtype=np.int64)
        return cls(noted, junctions, joints, np.union1d(there, np.flatnonzero(joints)))

    def __getitem__(self, node: int) -> tuple[str, ...]:
        """Give what interrupts the pipe at a node, in the order of the words."""
        found = {*self.noted.get(node, ()), *self._joint(node)}
        if not found:
            raise KeyError(node)
        return tuple(sorted(found))

    def __iter__(self) -> Iterator[int]:
        """Give every node at which something interrupts, in order."""
        return iter(self.nodes.tolist())

    def __len__(self) -> int:
        """Give how many such nodes there are."""
        return len(self.nodes)

    def _joint(self, node: int) -> Iterator[str]:
        if not 0 <= node < len(self.junctions):
            return
        junction, why = self.junctions[node], int(self.joints[node])
        if why & Joint.FITTING:
            yield f"{junction.fitting} {junction.id}"
        for flag, words in _WORDS.items():
            if why & flag:
                yield f"{words} {junction.id}"


@dataclass(frozen=True)
class Joined:
    """What the joints are asked of.

    junctions: of each node at a junction. pipes: in the order of ids. lengths: (pipes,) m, from
    junction to junction.
    pipe_of: (pieces,) the number of each piece's pipe, or -1.
    """

    junctions: Sequence[Junction]
    pipes: Sequence[Pipe]
    lengths: Sequence[float]
    pipe_of: np.ndarray
    positions: Positions


def joint_flags(
    joined: Joined, ends: np.ndarray, incidence: tuple[np.ndarray, np.ndarray]
) -> np.ndarray:
    """Tell why a jacket may not lie across each junction's nodes (an array of Joint flags)."""
    junctions, count = joined.junctions, len(joined.junctions)
    fitted = np.fromiter((j.fitting not in PLAIN_FITTINGS for j in junctions), dtype=bool)
    defective = np.fromiter((j.defective for j in junctions), dtype=bool)
    degree = np.bincount(ends.ravel(), minlength=count)[:count]
    flags = fitted * int(Joint.FITTING) + defective * int(Joint.DEFECTIVE)
    flags += (degree > 2) * int(Joint.TEE) + (degree == 1) * int(Joint.END)
    plain = np.flatnonzero((degree == 2) & (flags == 0))
    starts, touching = incidence
    # A piece from the node to itself is listed once: first and second are then the same.
    first = joined.pipe_of[touching[starts[plain]]]
    second = joined.pipe_of[touching[starts[plain + 1] - 1]]
    piped = (first >= 0) & (second >= 0)
    plain, first, second = plain[piped], first[piped], second[piped]
    for node, one, two in np.column_stack([plain, first, second]).tolist():
        if _bore(joined.pipes[one]) != _bore(joined.pipes[two]):
            flags[node] |= int(Joint.CHANGE)
        elif _turns(joined, node, one, two):
            flags[node] |= int(Joint.BEND)
    return np.asarray(flags.astype(np.int8))


def _bore(pipe: Pipe) -> tuple[object, ...]:
    return (
        pipe.size.inches,
        pipe.material,
        pipe.wall,
        pipe.outside_diameter,
        pipe.wall_thickness,
    )


def _turns(joined: Joined, node: int, one: int, two: int) -> bool:
    """Tell whether two pipes turn at their joint, by the heights or by the drawing."""
    if one == two:
        return True
    plumb = [_uprightness(joined, pipe) for pipe in (one, two)]
    upright = [share is not None and share >= _PLUMB for share in plumb]
    if any(upright) and any(share is not None and share < _LEANING for share in plumb):
        return True
    junction = joined.junctions[node].id
    arrive, leave = (
        joined.positions.step_from(joined.pipes[pipe], junction) for pipe in (one, two)
    )
    if arrive is None or leave is None:
        return False
    angle = turn_between((-arrive[0], -arrive[1]), leave)
    if angle is None:
        # Drawn as a point: a riser on a plan, or a pipe whose direction nothing shows.
        return not all(upright)
    return angle > BEND_DEGREES


def _uprightness(joined: Joined, number: int) -> float | None:
    """Give a pipe's rise as a share of its length; None where it is not known to be one run."""
    pipe, length = joined.pipes[number], joined.lengths[number]
    if pipe.via or length <= 0.0:
        return None
    low, high = joined.positions.ends_of(pipe)
    if low.elevation is None or high.elevation is None:
        return None
    return abs(high.elevation - low.elevation) / length
