"""The freeze of one pipe without a layout: question in, estimate with coolant and schedule out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Literal

from pydantic import Field, ValidationError

from layoutcheck import __version__
from layoutcheck.document.faults import Fault, LayoutFaults, pointer_to
from layoutcheck.document.fields import (
    Duration,
    FluidName,
    Length,
    MaterialName,
    Pressure,
    Size,
    Temperature,
    Text,
)
from layoutcheck.document.models import Strict
from layoutcheck.document.read import faults_of, refuse_excess
from layoutcheck.physics.coolant import (
    CRITICAL_TEMPERATURE,
    TRIPLE_POINT_TEMPERATURE,
    Coolant,
    Supply,
)
from layoutcheck.physics.ice.answer import FreezeReport, report_of
from layoutcheck.physics.ice.answer_types import FreezeAnswer, FreezeOutcome
from layoutcheck.physics.ice.assumptions import STATEMENT
from layoutcheck.physics.ice.closure import Orientation
from layoutcheck.physics.ice.inputs import FreezeInputError, FreezeInputs
from layoutcheck.physics.slush import is_as_water
from layoutcheck.quantities import (
    Material,
    PipeDimensions,
    QuantityError,
    UnitSystem,
    pipe_dimensions,
    show_temperature,
)
from layoutcheck.quantities.spoken import CoolantName
from layoutcheck.report.cautions import DEFERENCE
from layoutcheck.report.cautions_with import cautions_with
from layoutcheck.report.freeze_part import freeze_part
from layoutcheck.report.model import FreezePart, Measure, Part
from layoutcheck.report.parts import measure
from layoutcheck.rules.covered import bounds_in_words, nearest_right
from layoutcheck.rules.estimates import (
    CoolantPlan,
    Freeze,
    coolant_plan,
    solid_length_for,
    usual_mass,
)
from layoutcheck.rules.fillings import Filling, slush_in_words
from layoutcheck.rules.known_practice import LARGEST_INCHES, LONGEST
from layoutcheck.rules.outcome import Amount, Dimension

FREEZE_FORMAT = "layoutcheck freeze 1"


class FreezeQuestion(Strict):
    """One pipe, one jacket, one coolant; every quantity with its unit."""

    size: Size
    material: MaterialName
    jacket: Length = Field(description="Length of the cold jacket along the pipe.")
    water_temperature: Temperature
    coolant: CoolantName = CoolantName.CARBON_DIOXIDE
    orientation: Orientation = Orientation.VERTICAL
    wall: Text | None = Field(None, description="Schedule or tube type: 'sch 40', 'type L'.")
    air_temperature: Temperature = Field(293.15, json_schema_extra={"default": "68 degF"})
    below: Length | None = Field(
        None,
        description="Length of the pipe with water that rises to the jacket from below it. Asked "
        "for in a pipe that is not level, if the water is warmer than 68 degF.",
    )
    pressure: Pressure | None = Field(None, description="Head that the plug has to hold.")
    hold: Duration = Field(
        2 * 3600.0,
        description="How long the plug is held for the work.",
        json_schema_extra={"default": "2 h"},
    )
    cylinder_temperature: Temperature = Field(293.15, json_schema_extra={"default": "68 degF"})
    fluid: FluidName | None = Field(
        None, description="What fills the pipe; not stated, it is taken as plain water."
    )
    units: UnitSystem = UnitSystem.IMPERIAL


class PipeFreeze(Part):
    """The answer: what was asked, the estimate for people, and the model's own numbers in SI."""

    format: Literal["layoutcheck freeze 1"] = "layoutcheck freeze 1"
    version: str
    units: str
    pipe: str
    outside_diameter: Measure
    inside_diameter: Measure
    jacket: Measure
    water_temperature: Measure
    coolant: str
    orientation: str
    fluid: str
    statement: str
    estimate: FreezePart
    model: FreezeReport | None
    cautions: tuple[str, ...]
    deference: str

    def to_json(self) -> str:
        """Write the answer as JSON: the same bytes for the same question."""
        return self.model_dump_json(indent=2) + "\n"


def read_question(data: object) -> FreezeQuestion:
    """Read a question from parsed JSON. Raises LayoutFaults with every fault."""
    refuse_excess(data)
    try:
        question = FreezeQuestion.model_validate(data)
    except ValidationError as error:
        raise LayoutFaults(faults_of(error, data)) from None
    _dimensions(question)
    faults = list(_not_covered(question))
    if faults:
        raise LayoutFaults(faults)
    return question


def answer_freeze(question: FreezeQuestion) -> PipeFreeze:
    """Estimate the freeze of one pipe. Raises LayoutFaults for a pipe that there is not."""
    dimensions = _dimensions(question)
    answer = freeze_of_question(question)
    fluid = question.fluid
    missing = () if fluid is None else Filling(fluid, is_as_water(fluid)).missing
    freeze = Freeze(answer, None if answer is None else answer.needed_solid_length, missing)
    plan = _plan(question, dimensions, answer)

    def write(amount: Amount) -> Measure:
        return measure(amount, question.units)

    def length(metres: float) -> Measure:
        return write(Amount(metres, Dimension.LENGTH))

    return PipeFreeze(
        version=__version__,
        units=question.units.value,
        pipe=f"{question.size.text}, {question.material.value}, {dimensions.wall_name}",
        outside_diameter=length(dimensions.outside_diameter),
        inside_diameter=length(dimensions.inside_diameter),
        jacket=length(question.jacket),
        water_temperature=write(Amount(question.water_temperature, Dimension.TEMPERATURE)),
        coolant=question.coolant.value,
        orientation=question.orientation.value,
        fluid="plain water, as nothing was stated" if fluid is None else fluid.text,
        statement=STATEMENT,
        estimate=_told(question, freeze_part(freeze, plan, write)),
        model=None if answer is None else report_of(answer),
        cautions=cautions_with((question.coolant,)),
        deference=DEFERENCE,
    )


def freeze_of_question(question: FreezeQuestion) -> FreezeAnswer | None:
    """Run the model for a question.

    None where the pressure is beyond what is vouched for, and where the pipe holds no plain water.
    """
    # The solver takes a while to load: only who asks for a freeze pays for it.
    from layoutcheck.physics.ice.model import freeze_answer  # noqa: PLC0415

    if question.fluid is not None and not is_as_water(question.fluid):
        return None
    needed = solid_length_for(_dimensions(question), question.pressure or 0.0)
    return None if needed is None else freeze_answer(_inputs(question, needed))


def _inputs(question: FreezeQuestion, needed: float | None) -> FreezeInputs:
    dimensions = _dimensions(question)
    return FreezeInputs(
        outside_diameter=dimensions.outside_diameter,
        wall=dimensions.wall,
        material=question.material,
        coolant=Coolant(question.coolant.value),
        jacket_length=question.jacket,
        start_temperature=question.water_temperature,
        ambient_temperature=question.air_temperature,
        orientation=question.orientation,
        needed_solid_length=needed,
        column_below=question.below,
    )


def _plan(
    question: FreezeQuestion, dimensions: PipeDimensions, answer: FreezeAnswer | None
) -> CoolantPlan:
    if answer is None:
        return CoolantPlan(None, None)
    kind = Coolant(question.coolant.value)
    supply = Supply(kind, usual_mass(kind), question.cylinder_temperature)
    return coolant_plan(
        answer,
        outside_diameter=dimensions.outside_diameter,
        jacket=question.jacket,
        supply=supply,
        hold=question.hold,
    )


def _dimensions(question: FreezeQuestion) -> PipeDimensions:
    try:
        return pipe_dimensions(question.size, question.material, question.wall)
    except QuantityError as error:
        place = "wall" if question.wall else "size"
        fault = Fault(
            pointer=pointer_to(place),
            found=error.found,
            problem=error.problem,
            example=error.example,
        )
        raise LayoutFaults([fault]) from None


def _told(question: FreezeQuestion, part: FreezePart) -> FreezePart:
    """Say what the question itself leaves open, or what in it keeps a plug from standing."""
    head = (
        "and more where the pressure to hold calls for it"
        if question.pressure
        else "since no pressure to hold was given"
    )
    said = (
        f"The solid length needed is two outside diameters, {head} (own choice; common "
        "practice, no published source)."
    )
    if part.needed_solid_length is not None:
        part = part.model_copy(update={"assumptions": (*part.assumptions, said)})
    fluid = question.fluid
    if fluid is not None and not is_as_water(fluid):
        return part.model_copy(update={"reason": slush_in_words(fluid, question.units)})
    if beyond := _beyond_practice(question, part):
        return part.model_copy(update={"outcome": FreezeOutcome.UNDECIDED.value, "reason": beyond})
    if not has_liquid(question):
        stored = show_temperature(question.cylinder_temperature, question.units)
        bounds = (TRIPLE_POINT_TEMPERATURE.value, CRITICAL_TEMPERATURE.value)
        cold, warm = (show_temperature(t, question.units) for t in bounds)
        return part.model_copy(
            update={
                "outcome": FreezeOutcome.UNDECIDED.value,
                "reason": f"cylinders at {stored} hold no liquid, so nothing comes out that "
                f"freezes: they must be colder than {warm} and warmer than {cold}. Bring such "
                "cylinders. With liquid from them the pipe would freeze as below",
            }
        )
    return part


def _beyond_practice(question: FreezeQuestion, part: FreezePart) -> str:
    """Say that nobody is known to have done such a freeze; empty where that is not so."""
    time = part.time_to_plug
    if question.size.inches > LARGEST_INCHES:
        what = f"pipe of {question.size.text} is larger than what is known to have been frozen"
    elif time is not None and time.high.value > LONGEST:
        what = f"a freeze of up to {time.high.shown} is longer than what is known"
    else:
        return ""
    return (
        f"{what} (own choice of limit: {LARGEST_INCHES:g} in, {LONGEST / 3600:g} h). Drain "
        "instead, or ask people who have done it. The model says: " + part.reason
    )


def has_liquid(question: FreezeQuestion) -> bool:
    """Tell whether the cylinders hold liquid to draw at their temperature."""
    low, high = TRIPLE_POINT_TEMPERATURE.value, CRITICAL_TEMPERATURE.value
    fit = low <= question.cylinder_temperature < high
    return fit or question.coolant is not CoolantName.CARBON_DIOXIDE


# What is held to the model's bounds by itself: the question's field, and the model's.
_BOUNDED = (
    ("jacket", "jacket_length"),
    ("water_temperature", "start_temperature"),
    ("air_temperature", "ambient_temperature"),
)


def _not_covered(question: FreezeQuestion) -> Iterator[Fault]:
    """Find every value that the model does not cover, each with the nearest that it does."""
    usual = FreezeInputs(
        outside_diameter=0.0603,
        wall=0.0039,
        material=Material.CARBON_STEEL,
        coolant=Coolant.CARBON_DIOXIDE,
        jacket_length=0.3,
        start_temperature=288.15,
    )
    for field, own in _BOUNDED:
        try:
            replace(usual, **{own: getattr(question, field)})
        except FreezeInputError as error:
            yield Fault(
                pointer=pointer_to(field),
                found=measure(Amount(error.value, _DIMENSION[error.unit]), question.units).shown,
                problem=f"must lie {bounds_in_words(error, question.units)}: the model of the ice "
                "covers no other",
                example=f'"{field}": "{nearest_right(error, question.units)}"',
            )


_DIMENSION = {"m": Dimension.LENGTH, "K": Dimension.TEMPERATURE}
