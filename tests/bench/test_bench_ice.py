"""Speed of the freezing model, as ratios in one run: to a general finite-volume library, to a fixed
piece of numerical work, and to the same freezes one by one."""

import dataclasses
import importlib.util
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from scipy.linalg.lapack import dpbsv

from layoutcheck.document import parse_layout, read_text
from layoutcheck.physics.ice import model
from layoutcheck.physics.ice.cases import STANDARD
from layoutcheck.physics.ice.events import freeze
from layoutcheck.physics.ice.inputs import FreezeInputs
from layoutcheck.physics.ice.transient import Run
from layoutcheck.rules.case import Case
from layoutcheck.rules.estimates import freeze_of
from layoutcheck.rules.registry import default_pack

PHYSICS_TESTS = Path(__file__).parents[1] / "physics"
RISER = Path(__file__).parents[2] / "fixtures" / "heating-riser-mended.json"

COMPILED = 2.0
"""What the ice of the heating riser cost, in fixed pieces of work, when the solver was compiled and
warm and held no column of water: 0.53 to 0.57 s against 0.27 to 0.28 s, on 2026-12-01."""


def least_time(run: Callable[[], object], times: int = 5) -> float:
    """Least processor time of some runs, s: the machine may be shared."""
    took = []
    for _ in range(times):
        start = time.process_time()
        run()
        took.append(time.process_time() - start)
    return min(took)


def fixed_work() -> None:
    """Numerical work of a fixed size: banded solutions, look-ups and exponentials."""
    random = np.random.default_rng(1)
    band = random.random((10, 4000))
    band[0] += 20.0
    for _ in range(100):
        dpbsv(band, random.random(4000), lower=1)
    at, steps = random.random(40_000), np.linspace(0.0, 1.0, 400)
    for _ in range(100):
        np.exp(at).sum()
        np.interp(at, steps, np.arange(400.0))


def asked_of_the_riser() -> list[FreezeInputs]:
    case = Case.of(parse_layout(read_text(RISER.read_text("utf-8"))), default_pack())
    answers = [freeze_of(case, plug).answer for plug in case.plugs]
    return [answer.inputs for answer in answers if answer is not None]


def afresh(asked: list[FreezeInputs]) -> None:
    model._ANSWERS.clear()
    model.freeze_answers(asked)


@pytest.mark.bench
def test_the_ice_of_a_check_costs_no_more_than_when_it_was_compiled() -> None:
    asked = asked_of_the_riser()
    assert len(asked) == 2
    ours, work = least_time(lambda: afresh(asked)), least_time(fixed_work)
    print(f"\nthe heating riser's ice: {ours / work:.2f} pieces of work, compiled {COMPILED}")
    # A tenth for a machine on which others work.
    assert ours <= 1.1 * COMPILED * work


@pytest.mark.bench
def test_plugs_together_cost_less_than_one_by_one() -> None:
    asked = [
        dataclasses.replace(asked_of_the_riser()[0], jacket_length=0.3 + 0.01 * n) for n in range(8)
    ]
    together = least_time(lambda: afresh(asked), 2)

    def one_by_one() -> None:
        for one in asked:
            afresh([one])

    alone = least_time(one_by_one, 2)
    print(f"\n8 plugs: {alone / together:.2f} times as fast together as one by one")
    assert together < 0.9 * alone


def load(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, PHYSICS_TESTS / f"{name}.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.bench
@pytest.mark.parametrize("name", ["2 in steel, CO2", "12 in steel, nitrogen"])
def test_each_of_fifteen_runs_is_fifty_times_faster_than_fipy(name: str) -> None:
    """Same grid (that of a real check), same step rule, closing times within 2 %.

    A check of one plug marches ten runs together, of two plugs twenty.
    """
    pair = load("test_ice_second_model")
    fipy = pair.second_model()
    setting = pair.setting_of(name, STANDARD.water_rings, STANDARD.wall_rings, STANDARD.slices)
    question = pair.question_of(fipy, name, setting)
    fipy.FiPyFreeze(question, pair.LIQUID).step(1.0)  # warm the caches
    necks: list[float] = []

    def run(count: int) -> None:
        done = freeze([Run(setting) for _ in range(count)], needed=[2e-4] * count,
                      horizons=[1e6] * count)  # fmt: skip
        necks.append(done[0].neck_at)

    fifteen, one = least_time(lambda: run(15)) / 15, least_time(lambda: run(1))
    theirs = least_time(lambda: necks.append(fipy.closing_time(question, pair.LIQUID, 1e6)), 2)
    print(f"\n{name}: {theirs / fifteen:.0f} times each of fifteen, {theirs / one:.0f} times one")
    assert necks[-1] == pytest.approx(necks[0], rel=0.02)
    assert theirs > 50.0 * fifteen
