"""The body of an element with ports: its middles, and how far each port lies from one of them.

An element of two ports has its middle between them. One of three or more is a spine along its
longest way from port to port, with a middle wherever ports leave it: the way between two ports of a
long header runs along it, and not by the header's far-off centre. A bend is crossed in a straight
line: that is a little short, and short distances are the unsafe side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layoutcheck.importers.ifc.shape import Vector, apart

# Ports that leave a spine within this much of each other (m) leave it at one middle.
_ONE_MIDDLE = 0.02


@dataclass(frozen=True)
class Hub:
    """middles: along the spine (m). port_of: for each port its middle and its way to it (m)."""

    middles: tuple[Vector, ...]
    ports: tuple[tuple[int, float], ...]

    @property
    def main(self) -> int:
        """Give the middle at which the element itself is said to stand."""
        return len(self.middles) // 2


def hub_of(ports: Sequence[Vector]) -> Hub:
    """Give the body of an element with ports at some places (m)."""
    if len(ports) < 2:
        return Hub((ports[0],), ((0, 0.0),))
    if len(ports) == 2:
        half = apart(*ports) / 2
        return Hub((_mean(ports),), ((0, half), (0, half)))
    return _spine(ports)


def _spine(ports: Sequence[Vector]) -> Hub:
    cloud = np.array(ports)
    gaps = np.linalg.norm(cloud[:, None] - cloud[None, :], axis=2)
    first, last = sorted(divmod(int(gaps.argmax()), len(ports)))
    length = float(gaps[first, last])
    if length == 0.0:
        return Hub((ports[0],), tuple((0, 0.0) for _ in ports))
    way = (cloud[last] - cloud[first]) / length
    along = np.clip((cloud - cloud[first]) @ way, 0.0, length)
    sides = sorted((float(along[i]), i) for i in range(len(ports)) if i not in {first, last})
    groups: list[list[tuple[float, int]]] = []
    for station, port in sides:
        if groups and station - groups[-1][0][0] <= _ONE_MIDDLE:
            groups[-1].append((station, port))
        else:
            groups.append([(station, port)])
    middles = [_on(cloud[first], way, sum(s for s, _ in g) / len(g)) for g in groups]
    found = {first: 0, last: len(groups) - 1}
    found |= {port: number for number, group in enumerate(groups) for _, port in group}
    arms = ((found[i], apart(middles[found[i]], ports[i])) for i in range(len(ports)))
    return Hub(tuple(middles), tuple(arms))


def _on(start: np.ndarray, way: np.ndarray, station: float) -> Vector:
    spot = start + way * station
    return (float(spot[0]), float(spot[1]), float(spot[2]))


def _mean(spots: Sequence[Vector]) -> Vector:
    middle = np.mean(np.array(spots), axis=0)
    return (float(middle[0]), float(middle[1]), float(middle[2]))
