"""What fills a pipe: plain water, a glycol or brine with its share, or something nobody has named.

A share without 'by volume' or 'by mass' is refused: for a glycol the two differ by a degree.
"""

import re
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from layoutcheck.quantities.errors import QuantityError, shown
from layoutcheck.quantities.text import UnreadableError, fail, plain_text

EXAMPLE = "30 % propylene glycol by volume"


class FluidKind(StrEnum):
    """What a fluid is."""

    WATER = "plain water"
    PROPYLENE_GLYCOL = "propylene glycol"
    ETHYLENE_GLYCOL = "ethylene glycol"
    BRINE = "brine"
    TREATED = "treated water"
    OTHER = "other"


class ShareBasis(StrEnum):
    """What a share is a share of."""

    VOLUME = "by volume"
    MASS = "by mass"


@dataclass(frozen=True)
class Fluid:
    """What fills a pipe. share: of what is in the water, 0 to 1; None where it is not stated."""

    kind: FluidKind
    share: float | None = None
    basis: ShareBasis | None = None

    @property
    def text(self) -> str:
        """Write it in one spelling: '30 % propylene glycol by volume'."""
        if self.share is None or self.basis is None:
            return self.kind.value
        return f"{100 * self.share:.6g} % {self.kind} {self.basis}"


# Trade words, common practice, no published source. "glycol" and "antifreeze" are left out on
# purpose: which of the two glycols it is decides where it freezes.
_SYNONYMS = {
    FluidKind.WATER: "water|potable water|drinking water|fresh water",
    FluidKind.PROPYLENE_GLYCOL: "pg|mpg|monopropylene glycol",
    FluidKind.ETHYLENE_GLYCOL: "eg|meg|monoethylene glycol",
    FluidKind.BRINE: "salt water|saltwater|calcium chloride brine|sodium chloride brine",
    FluidKind.TREATED: "treated|inhibited water|water with inhibitor",
    FluidKind.OTHER: "unknown|not known",
}
_NAMES = MappingProxyType(
    {name: kind for kind in FluidKind for name in (kind.value, *(_SYNONYMS[kind].split("|")))}
)
_SHARE = re.compile(r"(?P<number>[0-9]{1,3}(?:\.[0-9]{1,6})?) ?%")
_BASIS = re.compile(r"by (?P<basis>volume|mass|weight)|(?P<short>v/v|w/w)")
_BASES = MappingProxyType(
    {
        "volume": ShareBasis.VOLUME,
        "v/v": ShareBasis.VOLUME,
        "mass": ShareBasis.MASS,
        "weight": ShareBasis.MASS,
        "w/w": ShareBasis.MASS,
    }
)


def parse_fluid(text: object) -> Fluid:
    """Read what fills a pipe.

    Args:
        text: "plain water", "30 % propylene glycol by volume", "ethylene glycol 25 % by mass",
            "brine", "treated water" or "other".

    Returns:
        The fluid.

    Raises:
        QuantityError: If the word is not known, or the share is not a share of anything.
    """
    if isinstance(text, Fluid):
        return text
    try:
        if not isinstance(text, str):
            fail("a fluid must be text")
        return _read(plain_text(text, "a fluid").lower())
    except UnreadableError as fault:
        raise QuantityError(shown(text), str(fault), EXAMPLE) from None


def _read(text: str) -> Fluid:
    share, basis = _SHARE.search(text), _BASIS.search(text)
    name = " ".join(_BASIS.sub(" ", _SHARE.sub(" ", text, count=1), count=1).split())
    kind = _NAMES.get(name)
    if kind is None:
        if "glycol" in name or name == "antifreeze":
            fail("which glycol is it: propylene glycol or ethylene glycol?")
        fail(f"this fluid is not known; the names are {', '.join(FluidKind)}")
    if share is None and basis is None:
        return Fluid(kind)
    if share is None or basis is None:
        fail("a share needs its number and 'by volume' or 'by mass'")
    if kind is FluidKind.WATER:
        fail("plain water has nothing in it; name what is in the water")
    value = float(share["number"]) / 100.0
    if not 0.0 < value <= 1.0:
        fail("a share lies above 0 % and up to 100 %")
    return Fluid(kind, value, _BASES[basis["basis"] or basis["short"]])
