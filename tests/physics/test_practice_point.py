"""The one point of practice, through ice, coolant and schedule together.

Common practice, no published source: a 2 in line from 68 degF water takes three 5-minute injections
with 5-minute waits, about 30 minutes and about 18 lb of carbon dioxide in all. The conductance of
the jacket is fitted to the 30 minutes. The 18 lb are not fitted; 'about' is read as within a
quarter. The jacket's length is not part of the practice figure, so two usual ones are tried.
"""

import pytest

from layoutcheck.physics.coolant import Coolant, Supply
from layoutcheck.physics.coolant_need import Jacket, coolant_needed
from layoutcheck.physics.ice.inputs import FreezeInputs
from layoutcheck.physics.ice.model import freeze_answer
from layoutcheck.physics.schedule import StepKind, make_schedule
from layoutcheck.quantities.materials import Material

OUTSIDE, WALL = 0.0603, 0.0039  # m, 2 in schedule 40 (ASME B36.10)
ROOM = 293.15  # K, 68 degF
POUND = 0.45359237
MINUTE = 60.0


@pytest.mark.slow
@pytest.mark.parametrize("jacket_length", [4.0 * OUTSIDE, 0.3048])
def test_a_two_inch_line_as_practice_has_it(jacket_length: float) -> None:
    ice = freeze_answer(
        FreezeInputs(
            OUTSIDE, WALL, Material.CARBON_STEEL, Coolant.CARBON_DIOXIDE, jacket_length, ROOM, ROOM
        )
    )
    assert ice.heat_taken is not None
    assert ice.time_to_plug is not None
    need = coolant_needed(
        heat_to_freeze=ice.heat_taken,
        freeze_time=ice.time_to_plug,
        hold_heat=ice.hold_heat(4.0 * 3600.0),
        hold_time=4.0 * 3600.0,
        jacket=Jacket.round_pipe(pipe_outside_diameter=OUTSIDE, length=jacket_length),
        supply=Supply(Coolant.CARBON_DIOXIDE, 50.0 * POUND, ROOM),
        ambient_temperature=ROOM,
    )
    plan = make_schedule(need=need, freeze_time=ice.time_to_plug, hold_time=4.0 * 3600.0)
    injections = [step for step in plan.steps if step.kind is StepKind.INJECT]

    assert need.until_plug.low < 18.0 * POUND < need.until_plug.high
    assert need.until_plug.likely == pytest.approx(18.0 * POUND, rel=0.25)
    assert len(injections) == 3
    assert all(step.duration == pytest.approx(300.0, abs=75.0) for step in injections)
    expected = plan.start_of(StepKind.PLUG_EXPECTED)
    assert expected == pytest.approx(30.0 * MINUTE, rel=0.1)
    assert 5.0 * MINUTE <= plan.top_up_interval <= 10.0 * MINUTE
