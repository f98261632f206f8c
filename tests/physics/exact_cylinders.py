"""Analytic solutions in a cylinder that the freezing model is held against."""

from __future__ import annotations

import math


def wall_resistance(
    *, inside_radius: float, wall: float, wall_conductivity: float, film: float
) -> float:
    """Resistance of wall and jacket, without the factor 2 pi and for a metre of pipe.

    Parameters:
        inside_radius: m.
        wall: thickness, m.
        wall_conductivity: W/(m K).
        film: conductance from the outer surface to the coolant, W/(m2 K); infinite for none.

    Returns:
        m K/W. Derived by hand from steady conduction through a composite cylinder.
    """
    outside = inside_radius + wall
    return 1.0 / (film * outside) + math.log(outside / inside_radius) / wall_conductivity


def composite_cylinder_heat_flow(
    *,
    radii: tuple[float, ...],
    conductivities: tuple[float, ...],
    film: float,
    difference: float,
) -> float:
    """Steady heat flow through coaxial layers and a film on the outermost surface.

    Parameters:
        radii: layer edges from the inside out, m; one more than there are layers.
        conductivities: of the layers from the inside out, W/(m K).
        film: conductance of the outer surface, W/(m2 K).
        difference: temperature across layers and film, K.

    Returns:
        W for a metre of pipe. Textbook heat conduction, derived by hand.
    """
    resistance = 1.0 / (film * radii[-1])
    for inner, outer, conductivity in zip(radii, radii[1:], conductivities, strict=False):
        resistance += math.log(outer / inner) / conductivity
    return 2.0 * math.pi * difference / resistance


def quasi_steady_cylinder_time(
    *,
    inside_radius: float,
    open_radius: float,
    latent: float,
    ice_conductivity: float,
    resistance: float,
    difference: float,
) -> float:
    """Time for ice to grow inward from the wall of a pipe full of water at the freezing point.

    The heat stored in ice and wall is left out: exact as the Stefan number goes to zero.

    Parameters:
        inside_radius: m.
        open_radius: radius still open at the end, m; 0 for a closed bore.
        latent: heat of freezing, J/m3.
        ice_conductivity: W/(m K).
        resistance: of wall and jacket, m K/W (see `wall_resistance`).
        difference: freezing point less coolant temperature, K.

    Returns:
        s.

    Source:
        London A.L. and Seban R.A. (1943), Trans. ASME 65, 771; the form is from memory and was
        derived again by hand: `dt = latent r (resistance + ln(R/r)/k) dr / difference`.
    """
    big, small = inside_radius**2, open_radius**2
    logarithm = 0.0
    if open_radius > 0.0:
        logarithm = 0.5 * small * math.log(inside_radius / open_radius)
    through_ice = (0.25 * (big - small) - logarithm) / ice_conductivity
    through_wall = 0.5 * (big - small) * resistance
    return latent * (through_ice + through_wall) / difference
