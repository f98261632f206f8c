"""The freeze of one pipe without a layout: question in, estimate with coolant and schedule out."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, ValidationError

from layoutcheck import __version__
from layoutcheck.document.faults import Fault, LayoutFaults, pointer_to
from layoutcheck.document.fields import (
    Duration,
    Length,
    MaterialName,
    Pressure,
    Size,
    Temperature,
    Text,
)
from layoutcheck.document.models import CoolantName, Strict
from layoutcheck.document.read import faults_of, refuse_excess
from layoutcheck.physics.coolant import Coolant, Supply
from layoutcheck.physics.ice.answer import FreezeReport, report_of
from layoutcheck.physics.ice.answer_types import FreezeAnswer
from layoutcheck.physics.ice.assumptions import STATEMENT
from layoutcheck.physics.ice.closure import Orientation
from layoutcheck.physics.ice.inputs import FreezeInputError, FreezeInputs
from layoutcheck.quantities import (
    PipeDimensions,
    QuantityError,
    UnitSystem,
    pipe_dimensions,
)
from layoutcheck.report.cautions import DEFERENCE
from layoutcheck.report.cautions_with import cautions_with
from layoutcheck.report.freeze_part import freeze_part
from layoutcheck.report.model import FreezePart, Measure, Part
from layoutcheck.report.parts import measure
from layoutcheck.rules.estimates import (
    CoolantPlan,
    Freeze,
    coolant_plan,
    solid_length_for,
    usual_mass,
)
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
    pressure: Pressure | None = Field(None, description="Head that the plug has to hold.")
    hold: Duration = Field(
        2 * 3600.0,
        description="How long the plug is held for the work.",
        json_schema_extra={"default": "2 h"},
    )
    cylinder_temperature: Temperature = Field(293.15, json_schema_extra={"default": "68 degF"})
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
    try:
        _inputs(question, None)
    except FreezeInputError as error:
        raise LayoutFaults([_fault("", str(error))]) from None
    return question


def answer_freeze(question: FreezeQuestion) -> PipeFreeze:
    """Estimate the freeze of one pipe. Raises LayoutFaults for a pipe that there is not."""
    dimensions = _dimensions(question)
    answer = freeze_of_question(question)
    freeze = Freeze(answer, None if answer is None else answer.needed_solid_length)

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
        statement=STATEMENT,
        estimate=freeze_part(freeze, _plan(question, dimensions, answer), write),
        model=None if answer is None else report_of(answer),
        cautions=cautions_with((question.coolant,)),
        deference=DEFERENCE,
    )


def freeze_of_question(question: FreezeQuestion) -> FreezeAnswer | None:
    """Run the model for a question; None where no length of ice would hold the pressure."""
    # The compiled solver takes half a second to load: only who asks for a freeze pays for it.
    from layoutcheck.physics.ice.model import freeze_answer  # noqa: PLC0415

    dimensions = _dimensions(question)
    needed = solid_length_for(dimensions, question.pressure or 0.0)
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


def _fault(pointer: str, problem: str) -> Fault:
    return Fault(
        pointer=pointer,
        found="the values together",
        problem=problem,
        example='"jacket": "12 in", "water_temperature": "60 degF"',
    )
