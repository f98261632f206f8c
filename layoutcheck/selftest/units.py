"""Units: what is read, and what is written and read back."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from layoutcheck import quantities as q
from layoutcheck.selftest.check import Check, Reading, Status, worst

GROUP = "UNITS"
_INCH = Fraction("0.0254")
_POUND_FORCE = Fraction("0.45359237") * Fraction("9.80665")
_BOTH = (q.UnitSystem.IMPERIAL, q.UnitSystem.METRIC)


def _definitions() -> Iterator[Reading]:
    """Exact definitions; the right side is the float nearest to the exact number."""
    yield Reading("24 ft 6 1/2 in (m)", q.parse_length("24 ft 6 1/2 in"), 7.4803)
    yield Reading("1 in (m)", q.parse_length("1 in"), 0.0254)
    yield Reading("1 psi (Pa)", q.parse_pressure("1 psi"), float(_POUND_FORCE / _INCH**2))
    yield Reading("1 bar (Pa)", q.parse_pressure("1 bar"), 100_000.0)
    yield Reading("68 degF (K)", q.parse_temperature("68 degF"), 293.15)
    yield Reading("212 degF (K)", q.parse_temperature("212 degF"), 373.15)
    yield Reading("-40 degF (K)", q.parse_temperature("-40 degF"), 233.15)
    yield Reading("50 lb (kg)", q.parse_mass("50 lb"), 22.6796185)
    yield Reading("1 gal (m3)", q.parse_volume("1 gal"), 0.003785411784)
    yield Reading("1 h 30 min (s)", q.parse_duration("1 h 30 min"), 5400.0)
    yield Reading("60 cfm (m3/s)", q.parse_flow("60 cfm"), 0.028316846592)


def _round_trips() -> Iterator[Reading]:
    """A value is written with so many digits; read back it is within half of the last one."""
    sixteenth = 0.0254 / 16.0
    lengths = [0.0254 * n / 7.0 for n in range(1, 4000, 97)]
    for system, half in ((_BOTH[0], 0.5 * sixteenth), (_BOTH[1], 0.0005)):
        back = (q.parse_length(q.short_length(m, system)) - m for m in lengths)
        yield worst(f"lengths, {system.value} (m)", back, most=half * (1.0 + 1e-9))
    for system, half_degree in ((_BOTH[0], 0.5 / 1.8), (_BOTH[1], 0.05)):
        pressures = [1e4 * 1.37**n for n in range(20)]
        shown = (q.parse_pressure(q.short_pressure(p, system)) / p - 1.0 for p in pressures)
        yield worst(f"pressures, {system.value} (share)", shown, most=0.005)
        masses = [0.1 * 1.7**n for n in range(20)]
        weighed = (q.parse_mass(q.short_mass(m, system)) / m - 1.0 for m in masses)
        yield worst(f"masses, {system.value} (share)", weighed, most=0.005)
        degrees = [195.0 + 7.3 * n for n in range(20)]
        felt = (q.parse_temperature(q.short_temperature(t, system)) - t for t in degrees)
        yield worst(f"temperatures, {system.value} (K)", felt, most=half_degree + 1e-9)


CHECKS = (
    Check(
        "definitions",
        GROUP,
        "Units are read to the last bit.",
        "international yard and pound agreement (1959), NIST Handbook 44 and SP 811",
        Status.PUBLISHED,
        _definitions,
    ),
    Check(
        "round-trips",
        GROUP,
        "What is written for people reads back as the same value.",
        "half of the last digit shown",
        Status.BY_HAND,
        _round_trips,
    ),
)


def checks() -> tuple[Check, ...]:
    """Give the checks of this group."""
    return CHECKS
