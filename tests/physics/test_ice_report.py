"""The report of one pipe, and its picture."""

import dataclasses
import io
import json
import subprocess
import sys
import xml.etree.ElementTree as ET

import jsonschema
import pytest
from matplotlib import image

from layoutcheck.physics.coolant import Coolant
from layoutcheck.physics.ice.answer import FreezeReport, freeze_pipe, report_of
from layoutcheck.physics.ice.inputs import FITTED_CONDUCTANCE, FreezeInputs
from layoutcheck.physics.ice.model import freeze_answer
from layoutcheck.physics.ice.plot import freeze_figure, freeze_png, freeze_svg
from layoutcheck.physics.ranges import Range
from layoutcheck.quantities.materials import Material
from layoutcheck.quantities.shown import UnitSystem

PIPE = FreezeInputs(
    outside_diameter=0.0603,
    wall=0.0039,
    material=Material.CARBON_STEEL,
    coolant=Coolant.CARBON_DIOXIDE,
    jacket_length=0.24,
    start_temperature=293.15,
)
CLOSES = freeze_answer(PIPE)
UNDECIDED = freeze_answer(dataclasses.replace(PIPE, jacket_conductance=Range(3.0, 58.0, 90.0)))
UNKNOWN = freeze_answer(dataclasses.replace(PIPE, material=Material.UNKNOWN))
ANSWERS = {"closes": CLOSES, "undecided": UNDECIDED, "unknown wall": UNKNOWN}


@pytest.mark.parametrize("name", sorted(ANSWERS))
def test_a_report_obeys_its_own_schema_and_comes_back_the_same(name: str) -> None:
    report = report_of(ANSWERS[name])
    text = report.model_dump_json()
    jsonschema.Draft202012Validator(FreezeReport.model_json_schema()).validate(json.loads(text))
    assert FreezeReport.model_validate_json(text) == report


@pytest.mark.parametrize("name", sorted(ANSWERS))
def test_every_report_says_it_is_an_estimate_and_carries_the_cautions(name: str) -> None:
    report = report_of(ANSWERS[name])
    assert report.statement == "This is an estimate, not a measured freeze time."
    together = " ".join(report.cautions)
    for word in ("proof", "burn", "displaces air", "burst", "brittle", "let go", "permit"):
        assert word in together


def test_the_assumptions_state_the_fit_and_every_source() -> None:
    together = " ".join(CLOSES.assumptions)
    assert f"{FITTED_CONDUCTANCE:.0f}" in together
    for words in ("fitted to one point", "no published source", "our own choice", "18 %"):
        assert words in together


def test_stated_conductance_is_not_called_fitted() -> None:
    together = " ".join(UNDECIDED.assumptions)
    assert "fitted" not in together
    assert "stated in the input" in together


def test_undecided_gives_no_time() -> None:
    report = report_of(UNDECIDED)
    assert report.outcome == "undecided"
    assert report.time_to_plug is None
    assert report.hold_heat_rate is None


def test_freeze_pipe_is_the_answer_reported() -> None:
    report = freeze_pipe(PIPE)
    assert report.time_to_plug is not None
    assert report.time_to_plug.unit == "s"
    assert report == report_of(freeze_answer(PIPE))


def test_the_course_runs_from_an_open_bore_to_a_closed_one() -> None:
    for course in report_of(CLOSES).courses:
        assert course.times_s[0] == 0.0
        assert list(course.times_s) == sorted(course.times_s)
        assert min(course.open_radii_m[0]) == pytest.approx(PIPE.inside_radius)
        assert min(course.open_radii_m[-1]) == 0.0
        assert list(course.positions_m) == sorted(course.positions_m)
        assert course.surface_k[0][0] == pytest.approx(293.15, abs=2.1)
        assert min(course.surface_k[-1]) > 194.0
        assert course.frost_m[0] == (0.0, 0.0)
        assert len(course.frost_m) == len(course.surface_k) == len(course.times_s)
        assert list(course.heat_taken_j) == sorted(course.heat_taken_j)
        assert len(course.open_radii_m) == len(course.times_s)
        assert all(len(row) == len(course.positions_m) for row in course.open_radii_m)


@pytest.mark.parametrize("name", sorted(ANSWERS))
def test_pictures_are_the_same_bytes_each_time(name: str) -> None:
    answer = ANSWERS[name]
    assert freeze_svg(answer) == freeze_svg(answer)
    assert freeze_png(answer) == freeze_png(answer)


@pytest.mark.parametrize("name", sorted(ANSWERS))
def test_pictures_can_be_read_and_bear_no_date(name: str) -> None:
    svg = freeze_svg(ANSWERS[name])
    assert ET.fromstring(svg).tag.endswith("svg")
    assert b"<dc:date>" not in svg
    pixels = image.imread(io.BytesIO(freeze_png(ANSWERS[name], dots_per_inch=60)))
    assert pixels.shape[:2] == (276, 600)
    assert pixels.std() > 0.02


def test_the_picture_shows_the_bore_and_the_whole_range() -> None:
    left, right = freeze_figure(CLOSES).axes
    assert CLOSES.time_to_neck_closed is not None
    assert left.get_xlim()[1] * 60.0 >= CLOSES.time_to_neck_closed.high
    assert left.get_ylim()[1] >= 1e3 * PIPE.inside_radius
    assert right.get_xlim()[1] >= 0.5e3 * PIPE.jacket_length
    assert "estimate, not a measured" in freeze_figure(CLOSES).get_suptitle()


def test_the_axes_are_in_the_readers_units() -> None:
    """2 in pipe: 60.3 mm, 2.374 in. The same bore on both: 1 in = 25.4 mm."""
    metric = freeze_figure(CLOSES, UnitSystem.METRIC)
    imperial = freeze_figure(CLOSES, UnitSystem.IMPERIAL)
    for figure, unit, title in (
        (
            metric,
            "(mm)",
            "60.3 mm carbon steel pipe, horizontal, carbon dioxide, water from 20 degC",
        ),
        (
            imperial,
            "(in)",
            "2.374 in carbon steel pipe, horizontal, carbon dioxide, water from 68 degF",
        ),
    ):
        left, right = figure.axes
        labels = (left.get_ylabel(), right.get_xlabel(), right.get_ylabel())
        assert all(unit in label for label in labels)
        assert title in figure.get_suptitle()
    tall = [figure.axes[0].get_ylim()[1] for figure in (metric, imperial)]
    assert tall[0] == pytest.approx(25.4 * tall[1])


def test_importing_the_report_does_not_load_the_solver() -> None:
    """The solver takes a while to load; only a real freeze may pay it."""
    code = "import sys, layoutcheck.physics.ice.answer; sys.exit('scipy.linalg' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
