"""What each class of a building model is to us.

IFC2x3 has general classes only (IfcFlowController) and tells the rest by the type object
(IfcValveType), so an element is told by its own class, and then by that of its type.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from layoutcheck.document.models import FittingKind, ValveKind
from layoutcheck.quantities.names import NO_NAMES, Names, valve_word


class Role(StrEnum):
    """What an element is in a network of pipes."""

    PIPE = "pipe"
    FITTING = "fitting"
    VALVE = "valve"
    PUMP = "pump"
    HEATER = "heater"
    COOLER = "cooler"
    TANK = "tank"
    TERMINAL = "terminal"
    INLINE = "inline"
    NOT_WATER = "not water"


CLASSES: dict[Role, str] = {
    Role.PIPE: "IfcPipeSegment",
    Role.FITTING: "IfcPipeFitting",
    Role.VALVE: "IfcValve",
    Role.PUMP: "IfcPump",
    Role.HEATER: "IfcBoiler IfcHeatExchanger IfcSpaceHeater IfcTubeBundle IfcSolarDevice IfcBurner",
    Role.COOLER: "IfcChiller IfcCoolingTower IfcCoil IfcCooledBeam IfcCondenser IfcEvaporator "
    "IfcUnitaryEquipment IfcHumidifier IfcEvaporativeCooler",
    Role.TANK: "IfcTank",
    Role.TERMINAL: "IfcSanitaryTerminal IfcFireSuppressionTerminal IfcStackTerminal "
    "IfcWasteTerminal IfcMedicalDevice",
    Role.INLINE: "IfcFlowMeter IfcFilter IfcInterceptor IfcDistributionChamberElement",
    Role.NOT_WATER: "IfcDuctSegment IfcDuctFitting IfcDuctSilencer IfcCableSegment "
    "IfcCableFitting IfcCableCarrierSegment IfcCableCarrierFitting IfcJunctionBox "
    "IfcConveyorSegment "
    "IfcAirTerminal IfcAirTerminalBox IfcDamper IfcFan IfcCompressor IfcLamp IfcLightFixture "
    "IfcOutlet IfcElectricAppliance IfcElectricDistributionBoard IfcElectricTimeControl "
    "IfcElectricFlowStorageDevice IfcElectricGenerator IfcElectricMotor IfcEngine "
    "IfcAudioVisualAppliance IfcCommunicationsAppliance IfcMotorConnection IfcProtectiveDevice "
    "IfcSwitchingDevice IfcTransformer IfcAirToAirHeatRecovery IfcLiquidTerminal "
    "IfcMobileTelecommunicationsAppliance IfcElectricFlowTreatmentDevice IfcSignal",
}
# Where neither the class nor the type tells more: what the general classes are taken as.
_GENERAL = {
    "IfcFlowSegment": Role.PIPE,
    "IfcFlowFitting": Role.FITTING,
    "IfcFlowController": Role.VALVE,
    "IfcFlowMovingDevice": Role.PUMP,
    "IfcEnergyConversionDevice": Role.HEATER,
    "IfcFlowStorageDevice": Role.TANK,
    "IfcFlowTerminal": Role.TERMINAL,
    "IfcFlowTreatmentDevice": Role.INLINE,
}
_ROLES = {name: role for role, names in CLASSES.items() for name in names.split()}

# Elements that let water through from one port to all others.
IN_LINE = frozenset({Role.FITTING, Role.VALVE, Role.PUMP, Role.INLINE})


@dataclass(frozen=True)
class Told:
    """What an element is, and whether its class was too general to tell."""

    role: Role
    guessed: bool


def role_of(own: str, of_type: str | None) -> Told:
    """Tell what an element is by its class and by the class of its type object."""
    if own in _ROLES:
        return Told(_ROLES[own], guessed=False)
    bare = (of_type or "").removesuffix("Type")
    if bare in _ROLES:
        return Told(_ROLES[bare], guessed=False)
    if own in _GENERAL:
        return Told(_GENERAL[own], guessed=True)
    return Told(Role.NOT_WATER, guessed=False)


_VALVES = {
    "CHECK": ValveKind.CHECK,
    "DOUBLECHECK": ValveKind.CHECK,
    "PRESSUREREDUCING": ValveKind.REDUCING,
    "REGULATING": ValveKind.CONTROL,
    "COMMISSIONING": ValveKind.BALANCING,
    "DOUBLEREGULATING": ValveKind.BALANCING,
}
_MECHANISMS = {
    "GATE": ValveKind.GATE,
    "SLUICE": ValveKind.GATE,
    "GLOBE": ValveKind.GLOBE,
    "BALL": ValveKind.BALL,
    "BUTTERFLY": ValveKind.BUTTERFLY,
    "PLUG": ValveKind.COCK,
    "COCK": ValveKind.COCK,
}
_FITTINGS = {
    "BEND": FittingKind.ELBOW,
    "TRANSITION": FittingKind.REDUCER,
    "OBSTRUCTION": FittingKind.CAP,
    "CONNECTOR": FittingKind.COUPLING,
}


# What a fitting of two ports is called, in English and in German.
_SPOKEN = tuple(
    (re.compile(words), kind)
    for words, kind in (
        (r"flans?ch|flange", FittingKind.FLANGE),
        (r"\bunion\b|verschraubung", FittingKind.UNION),
        (r"\bweld\b|schweißnaht", FittingKind.WELD),
        (r"coupling|muffe", FittingKind.COUPLING),
        (r"strainer|schmutzf", FittingKind.STRAINER),
        (r"\bmeter\b|zähler", FittingKind.METER),
        (r"reducer|reduzier", FittingKind.REDUCER),
        (r"elbow|bogen|winkel", FittingKind.ELBOW),
        (r"\btee\b|t-stück", FittingKind.TEE),
    )
)
# What closes a pipe, in English and in German, as programs name it.
_CLOSES = re.compile(
    r"\b(?:(?:end[ -]?)?cap|blind|plug|stop[ -]?end|end[ -]?plate|blank(?:ing)?"
    r"|(?:end|verschluss)?(?:kappe|stopfen|deckel)|(?:end|verschluss)st(?:ue|ü)ck"
    r"|blind(?:flansch|deckel|kappe)|klöpperboden)s?\b"
)


def is_closed_end(predefined: str, words: str) -> bool:
    """Tell whether a fitting is said to close the pipe: by its type, or by words in its names."""
    if predefined in {"ENTRY", "EXIT"}:
        return False
    return predefined == "OBSTRUCTION" or _CLOSES.search(words.lower()) is not None


def valve_kind(predefined: str, mechanism: str, words: str, names: Names = NO_NAMES) -> ValveKind:
    """Tell the kind of a valve: by its type, by its mechanism, then by words in its names.

    A word for a check valve rules over a mechanism: such a valve is never trusted to hold.
    """
    if predefined in _VALVES:
        return _VALVES[predefined]
    spoken = ValveKind(valve_word(words, names) or ValveKind.OTHER)
    return spoken if spoken is ValveKind.CHECK else _MECHANISMS.get(mechanism, spoken)


def fitting_kind(predefined: str, words: str, ends: int) -> FittingKind:
    """Tell the kind of a fitting by its type, by words in its names, and by its ends."""
    spoken = words.lower()
    if ends <= 1:
        return FittingKind.BLIND if "blind" in spoken else FittingKind.CAP
    if ends >= 3:
        return FittingKind.TEE if ends == 3 else FittingKind.CROSS
    told = next((kind for words, kind in _SPOKEN if words.search(spoken)), None)
    found = told or _FITTINGS.get(predefined, FittingKind.OTHER)
    return FittingKind.OTHER if found is FittingKind.CAP else found
