"""What fills a pipe, as people write it."""

import pytest

from layoutcheck.quantities import FluidKind, QuantityError, parse_fluid
from layoutcheck.quantities.fluids import EXAMPLE, ShareBasis


@pytest.mark.parametrize(
    ("text", "kind", "share", "basis"),
    [
        ("plain water", FluidKind.WATER, None, None),
        ("Water", FluidKind.WATER, None, None),
        ("30 % propylene glycol by volume", FluidKind.PROPYLENE_GLYCOL, 0.3, ShareBasis.VOLUME),
        ("propylene glycol 30% by volume", FluidKind.PROPYLENE_GLYCOL, 0.3, ShareBasis.VOLUME),
        ("EG 25.5 % w/w", FluidKind.ETHYLENE_GLYCOL, 0.255, ShareBasis.MASS),
        ("ethylene glycol 25 % by weight", FluidKind.ETHYLENE_GLYCOL, 0.25, ShareBasis.MASS),
        ("propylene glycol", FluidKind.PROPYLENE_GLYCOL, None, None),
        ("treated water", FluidKind.TREATED, None, None),
        ("brine", FluidKind.BRINE, None, None),
        ("other", FluidKind.OTHER, None, None),
    ],
)
def test_read(text: str, kind: FluidKind, share: float | None, basis: ShareBasis | None) -> None:
    found = parse_fluid(text)
    assert (found.kind, found.basis) == (kind, basis)
    assert found.share == (None if share is None else pytest.approx(share))
    assert parse_fluid(found.text) == found


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("30 % glycol by volume", "which glycol"),
        ("antifreeze", "which glycol"),
        ("30 % propylene glycol", "by volume"),
        ("propylene glycol by volume", "number"),
        ("30 % water by volume", "nothing in it"),
        ("0 % ethylene glycol by mass", "above 0 %"),
        ("130 % ethylene glycol by mass", "up to 100 %"),
        ("wine", "plain water"),
        ("", "not known"),
        (30, "text"),
        (None, "text"),
    ],
)
def test_refused(text: object, says: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_fluid(text)
    assert says in caught.value.problem
    assert parse_fluid(caught.value.example) == parse_fluid(EXAMPLE)
