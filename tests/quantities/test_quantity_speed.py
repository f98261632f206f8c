"""How fast lengths are read, as a ratio to a general unit library in the same run."""

from time import perf_counter

import pint
import pytest

from layoutcheck.quantities import parse_length


@pytest.mark.bench
def test_new_lengths_are_read_faster_than_by_a_general_library() -> None:
    texts = [f"{number / 16} ft" for number in range(2000)]  # all different: no cache can help
    registry: pint.UnitRegistry = pint.UnitRegistry()
    registry.Quantity("1 ft").to("meter")
    start = perf_counter()
    ours = [parse_length(text) for text in texts]
    middle = perf_counter()
    theirs: list[float] = [registry.Quantity(text).to("meter").magnitude for text in texts]
    end = perf_counter()
    ratio = (end - middle) / (middle - start)
    assert ours == pytest.approx(theirs, rel=1e-12)
    assert ratio > 2, f"only {ratio:.1f} times as fast"
