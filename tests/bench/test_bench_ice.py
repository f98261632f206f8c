"""Speed of the freezing model as a ratio, in one run, to a general finite-volume library."""

import importlib.util
import sys
import time
from pathlib import Path
from types import ModuleType

import pytest

from layoutcheck.physics.ice.events import freeze
from layoutcheck.physics.ice.model import STANDARD
from layoutcheck.physics.ice.transient import Run

PHYSICS_TESTS = Path(__file__).parents[1] / "physics"


def load(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, PHYSICS_TESTS / f"{name}.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.mark.bench
@pytest.mark.parametrize("name", ["2 in steel, CO2", "12 in steel, nitrogen"])
def test_at_least_fifty_times_faster_than_fipy(name: str) -> None:
    """Same grid (that of a real check), same step rule, closing times within 2 %."""
    pair = load("test_ice_second_model")
    fipy = pair.second_model()
    setting = pair.setting_of(name, STANDARD.water_rings, STANDARD.wall_rings, STANDARD.slices)
    question = pair.question_of(fipy, name, setting)
    freeze([Run(setting)], needed=[2e-4], horizons=[1e6])  # warm the caches
    fipy.FiPyFreeze(question, pair.LIQUID).step(1.0)
    ours, theirs = [], []
    for _ in range(3):
        start = time.perf_counter()
        neck = freeze([Run(setting)], needed=[2e-4], horizons=[1e6])[0].neck_at
        middle = time.perf_counter()
        other = fipy.closing_time(question, pair.LIQUID, 1e6)
        ours.append(middle - start)
        theirs.append(time.perf_counter() - middle)
        assert neck == pytest.approx(other, rel=0.02)
    print(f"{name}: {min(ours):.4f} s against {min(theirs):.3f} s")
    assert min(theirs) > 50.0 * min(ours)
