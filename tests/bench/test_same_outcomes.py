"""The same bytes by layoutcheck and by the plain version, on random networks.

Both give every outcome of every rule of place, every length measured, and every nearest place,
to a micrometre. The networks are those of the oracles (loops, parallel pipes, pipes of no length,
several parts, features at the very ends; lengths in whole steps, so ties are common) and invented
buildings with a plan and ducts.
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings

from layoutcheck.document import parse_layout
from tests.bench.campus import campus
from tests.bench.core import same_outcomes
from tests.oracles.strategies import Document, documents
from tests.sizes import some

IN_DEFAULT_RUN = 200
IN_NIGHTLY_RUN = 1000


def _compare(document: Document) -> None:
    fast, plain = same_outcomes(parse_layout(document))
    assert fast.decode() == plain.decode()


@settings(max_examples=some(IN_DEFAULT_RUN), suppress_health_check=[HealthCheck.too_slow])
@given(documents(plugs=(1, 4)))
def test_the_same_bytes_on_random_networks(document: Document) -> None:
    _compare(document)


@pytest.mark.nightly
@settings(max_examples=IN_NIGHTLY_RUN, suppress_health_check=[HealthCheck.too_slow])
@given(documents(junctions=14, extra=8, plugs=(1, 6)))
def test_the_same_bytes_on_a_thousand_random_networks(document: Document) -> None:
    _compare(document)


@pytest.mark.parametrize("seed", range(2))
def test_the_same_bytes_on_an_invented_building(seed: int) -> None:
    _compare(campus(120, 12, seed))


@pytest.mark.nightly
@pytest.mark.parametrize("seed", range(10, 30))
def test_the_same_bytes_on_an_invented_campus(seed: int) -> None:
    _compare(campus(500, 40, seed))
