"""What the model of the ice does not cover, in words and in the units of whoever asked."""

from __future__ import annotations

from layoutcheck.physics.ice.inputs import FreezeInputError
from layoutcheck.quantities import (
    UnitSystem,
    short_temperature,
    show_length,
    show_temperature,
)

_SHOWN = {"K": show_temperature, "m": show_length}


def bounds_in_words(error: FreezeInputError, units: UnitSystem) -> str:
    """Say between what a value must lie."""
    show = _SHOWN.get(error.unit, lambda value, _: f"{value:g} {error.unit}")
    return f"between {show(error.least, units)} and {show(error.most, units)}"


def nearest_right(error: FreezeInputError, units: UnitSystem) -> str:
    """Give the bound that a value lies beyond, as it is typed."""
    bound = error.most if error.value > error.most else error.least
    # A length is written to a sixteenth of an inch, and so may lie beyond its bound again.
    return short_temperature(bound, units) if error.unit == "K" else f"{bound:g} {error.unit}"


def not_covered(error: FreezeInputError, plug: str, units: UnitSystem) -> str:
    """Say what is missing for an answer: a value that the model covers."""
    return (
        f"{error.name} at plug {plug} {bounds_in_words(error, units)}, which the ice is known for"
    )
