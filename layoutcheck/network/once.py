"""Places to keep what follows from a value and takes a while to work out."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import TypeVar, cast

T = TypeVar("T")


class Once:
    """Keeps each thing that is asked for from its first asking on."""

    def __init__(self) -> None:
        """Begin with nothing kept."""
        self._kept: dict[Hashable, object] = {}

    def __call__(self, name: Hashable, make: Callable[[], T]) -> T:
        """Give the thing of a name, made at the first call."""
        if name not in self._kept:
            self._kept[name] = make()
        return cast("T", self._kept[name])


class Latest:
    """Keeps so many things as were asked for last."""

    def __init__(self, most: int) -> None:
        """Begin with nothing kept."""
        self._most = most
        self._kept: OrderedDict[Hashable, object] = OrderedDict()

    def __call__(self, name: Hashable, make: Callable[[], T]) -> T:
        """Give the thing of a name, made where it is not among those that are kept."""
        if name in self._kept:
            self._kept.move_to_end(name)
        else:
            self._kept[name] = make()
            if len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return cast("T", self._kept[name])
