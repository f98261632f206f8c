"""What all tests share: hypothesis profiles, and a way to need optional parts of the machine."""

import importlib
import importlib.util
import os
import shutil
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import HealthCheck, settings

from tests.sizes import some

ON_BUILD_MACHINE = os.environ.get("CI", "").lower() in {"1", "true", "yes"}

# A shared build machine can stall any test for a second, so no profile has a deadline.
settings.register_profile(
    "ci",
    deadline=None,
    max_examples=some(100),
    derandomize=True,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("dev", deadline=None, max_examples=some(100))
settings.register_profile("full", deadline=None)
settings.load_profile(
    os.environ.get("HYPOTHESIS_PROFILE", "ci" if ON_BUILD_MACHINE else "dev"),
)


class Require:
    """Optional parts a test needs. Missing: a skip for you, a failure on the build machine."""

    def __init__(self, *, missing_is_failure: bool) -> None:
        self._missing_is_failure = missing_is_failure

    def module(self, name: str) -> ModuleType:
        """Import and return the module `name`. One that is there but breaks on import raises."""
        try:
            found = importlib.util.find_spec(name) is not None
        except ModuleNotFoundError:  # the parent package is missing
            found = False
        if not found:
            self._missing(f"Python module {name} is not installed")
        return importlib.import_module(name)

    def tool(self, name: str) -> str:
        """Return the path of the program `name`."""
        path = shutil.which(name)
        if path is None:
            self._missing(f"program {name} is not installed")
        return str(path)

    def file(self, path: Path, *, brought_by: str) -> Path:
        """Return `path`, which a tool puts there: brought_by says which."""
        if not path.exists():
            self._missing(f"{path.name} is not there; {brought_by} brings it")
        return path

    def _missing(self, what: str) -> None:
        if self._missing_is_failure:
            pytest.fail(f"{what}; the build machine must have it", pytrace=False)
        pytest.skip(what)


@pytest.fixture(scope="session")
def require() -> Require:
    """Usage: `ezdxf = require.module("ezdxf")`, `chromium = require.tool("chromium")`."""
    return Require(missing_is_failure=ON_BUILD_MACHINE)
