"""Whether a pipe wall tolerates the cold: a verdict, its reason, the clause and its standing.

Design codes give the lowest temperature a material may be designed for. They neither permit nor
forbid a temporary freeze. So a clause that covers the coolant's temperature gives 'tolerates' with
cautions, and everything that no source decides is 'ask'. Only a stated minimum that is warmer than
the coolant gives 'does not tolerate'.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from types import MappingProxyType

from layoutcheck.physics.coolant import COOLANT_TEMPERATURE, Coolant
from layoutcheck.physics.figures import Figure, Status, require_not_negative, require_positive
from layoutcheck.quantities.materials import Material

LOW_STRESS_RATIO = Figure(
    0.3,
    "1",
    "ASME B31.3-2016, stress-ratio rule of Fig 323.2.2B: the rule was read, the ratio of the "
    "figure for carbon steel is from memory",
    Status.MEMORY,
)
LOW_STRESS_TEMPERATURE = Figure(
    169.15, "K", "-104 degC, ASME B31.3-2016, notes to Table 323.2.2 and Fig 323.2.2A", Status.READ
)

_COMMON_CAUTIONS = (
    "No impact, bending or restraint on the pipe while it is cold.",
    "A design rule is no endorsement of a freeze; the engineer in charge and local codes decide.",
)


class Tolerance(StrEnum):
    """Verdict on a wall."""

    TOLERATES = "tolerates"
    DOES_NOT = "does not tolerate"
    ASK = "ask"


@dataclass(frozen=True, slots=True)
class WallVerdict:
    """What can be said of one material at one coolant.

    Parameters:
        tolerance: the verdict; `ASK` is undecided.
        reason: one sentence.
        clause: the clause or publication it stands on, or an empty text.
        status: how far that was checked.
        cautions: to be shown with it, whatever the verdict.
        missing: what would decide it, for `ASK`.
    """

    tolerance: Tolerance
    reason: str
    clause: str
    status: Status
    cautions: tuple[str, ...] = _COMMON_CAUTIONS
    missing: str = ""


def _ask(reason: str, clause: str, status: Status, missing: str) -> WallVerdict:
    return WallVerdict(Tolerance.ASK, reason, clause, status, _COMMON_CAUTIONS, missing)


_ENGINEER = "an engineer's acceptance, named in the document"
_SPECIALIST = "a specialist's review, named in the document"
_MAKER = "the pipe maker's lowest temperature, or a specialist's review"

_FCC = "; Wigley, NASA CR-177932 (1985) prefers fcc metals in the cold (abstract only)"
_LIU = "Liu et al., Water 16(2) 202 (2024): cast iron of 75 to 150 mm was frozen in tests"


def _plastic(name: str) -> WallVerdict:
    return _ask(
        f"No source gives a lowest temperature for {name}; plastics shrink and turn brittle.",
        "",
        Status.NO_SOURCE,
        f"specialist review: {_MAKER}",
    )


_FIXED: Mapping[Material, WallVerdict] = MappingProxyType(
    {
        Material.STAINLESS_STEEL: WallVerdict(
            Tolerance.TOLERATES,
            "Austenitic grades (304, 316) have a code minimum of -254 degC; others do not.",
            "ASME B31.3 Table A-1, 304/304L/316/316L" + _FCC,
            Status.MEMORY,
            (*_COMMON_CAUTIONS, "Confirm that the grade is austenitic."),
        ),
        Material.COPPER: WallVerdict(
            Tolerance.TOLERATES,
            "Copper has a code minimum of -269 degC.",
            "ASME B31.3 Table A-1, copper tube" + _FCC,
            Status.MEMORY,
            (*_COMMON_CAUTIONS, "Joints under the jacket are not covered by this."),
        ),
        Material.CAST_IRON: _ask(
            "Grey iron is brittle at any temperature; no code minimum was found.",
            _LIU,
            Status.ABSTRACT,
            _ENGINEER,
        ),
        Material.DUCTILE_IRON: _ask(
            "Ductile iron turns brittle in the cold; code minimum -29 degC.",
            "ASME B31.3 323.2",
            Status.MEMORY,
            _ENGINEER,
        ),
        Material.PVC: _plastic("PVC"),
        Material.CPVC: _plastic("CPVC"),
        Material.PEX: _plastic("PEX"),
        Material.HDPE: _plastic("HDPE"),
        Material.LINED_STEEL: _ask(
            "A lining shrinks more than the steel and may crack or come off.",
            "",
            Status.NO_SOURCE,
            _SPECIALIST,
        ),
        Material.UNKNOWN: _ask(
            "The material is not stated.", "", Status.NO_SOURCE, "the pipe's material"
        ),
    }
)


def stress_ratio(*, pressure: float, bore: float, wall: float, allowable: float) -> float:
    """Hoop stress over allowable stress.

    The code's ratio is the largest of several, bending among them; this is the hoop alone.

    Parameters:
        pressure: highest in the pipe while it is cold, Pa gauge, 0 or more.
        bore: inside diameter, m.
        wall: thickness, m.
        allowable: stress, Pa.

    Returns:
        Ratio, 0 or more.

    Raises:
        ValueError: a size that is not positive or a negative pressure.

    Source: thin-wall balance of forces with the outside diameter, the safe side; calculated.
    """
    require_not_negative(pressure=pressure)
    require_positive(bore=bore, wall=wall, allowable=allowable)
    return pressure * (bore + 2.0 * wall) / (2.0 * wall) / allowable


def wall_verdict(
    *,
    material: Material,
    coolant: Coolant,
    stress_ratio: float | None = None,
    limit: float = LOW_STRESS_RATIO.value,
    stated_minimum: float | None = None,
    accepted_by: str | None = None,
) -> WallVerdict:
    """Judge one wall against one coolant.

    Parameters:
        material: of the pipe.
        coolant: that cools it.
        stress_ratio: of the pipe while cold, from `stress_ratio`; None if not known. It must
            include every pressure the pipe can see then, trapped water too.
        limit: stress ratio up to which carbon steel may meet solid carbon dioxide.
        stated_minimum: lowest service temperature that the document states for this pipe, K.
        accepted_by: the engineer who accepted the freeze on this wall, as the document states.

    Returns:
        The verdict. An acceptance decides what no source decides; a stated minimum decides first,
        and against it an acceptance does not count.
    """
    if stated_minimum is not None:
        return _by_stated_minimum(stated_minimum, COOLANT_TEMPERATURE[coolant])
    if material in (Material.CARBON_STEEL, Material.GALVANIZED_STEEL):
        verdict = _carbon_steel(coolant, stress_ratio, limit)
    else:
        verdict = _FIXED[material]
    name = (accepted_by or "").strip()
    if verdict.tolerance is Tolerance.ASK and name:
        return replace(
            verdict,
            tolerance=Tolerance.TOLERATES,
            reason=f"Accepted by {name}, as the document states. {verdict.reason}",
            missing="",
        )
    return verdict


def _by_stated_minimum(minimum: float, coolant_temperature: float) -> WallVerdict:
    require_positive(stated_minimum=minimum)
    colder = coolant_temperature < minimum
    return WallVerdict(
        Tolerance.DOES_NOT if colder else Tolerance.TOLERATES,
        "The coolant is colder than the stated minimum of this pipe."
        if colder
        else "The stated minimum of this pipe covers the coolant.",
        "minimum temperature stated in the document",
        Status.NO_SOURCE,
    )


def _carbon_steel(coolant: Coolant, ratio: float | None, limit: float) -> WallVerdict:
    clause = "ASME B31.3-2016, notes to Table 323.2.2, Fig 323.2.2A and Fig 323.2.2B"
    if COOLANT_TEMPERATURE[coolant] < LOW_STRESS_TEMPERATURE.value:
        return _ask(
            "Liquid nitrogen is below every code minimum for carbon steel (-104 degC at the "
            "lowest). Tests on 3 and 6 in pipe saw no plastic strain (Park 1999, abstract only).",
            clause,
            Status.READ,
            _ENGINEER,
        )
    if ratio is None:
        return _ask(
            "Carbon steel is covered to -104 degC only at low stress, and the stress is not known.",
            clause,
            Status.READ,
            f"the highest pressure in the pipe and its wall, or {_ENGINEER}",
        )
    require_not_negative(stress_ratio=ratio)
    if ratio > limit:
        return _ask(
            f"The stress ratio {ratio:.2f} is above {limit:g}, up to which carbon steel is taken "
            "as covered to -104 degC.",
            clause,
            Status.READ,
            f"a lower pressure while cold, or {_ENGINEER}",
        )
    return WallVerdict(
        Tolerance.TOLERATES,
        f"At a stress ratio of {ratio:.2f}, not above {limit:g}, the design rule covers carbon "
        "steel to -104 degC; solid carbon dioxide is at -78.5 degC.",
        clause + "; the 0.3 for carbon steel is from memory",
        Status.READ,
        (
            *_COMMON_CAUTIONS,
            "The rule counts bending too, and asks for a pressure test and protection from "
            "impact and thermal shock (from memory): confirm them.",
        ),
    )
