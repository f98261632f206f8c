"""Pipe materials and the names people give them."""

import re
from enum import StrEnum
from types import MappingProxyType

from layoutcheck.quantities.errors import QuantityError, shown
from layoutcheck.quantities.names import built_in_names, small
from layoutcheck.quantities.text import UnreadableError, plain_text


class Material(StrEnum):
    """What a pipe is made of."""

    CARBON_STEEL = "carbon steel"
    GALVANIZED_STEEL = "galvanized steel"
    STAINLESS_STEEL = "stainless steel"
    COPPER = "copper"
    CAST_IRON = "cast iron"
    DUCTILE_IRON = "ductile iron"
    PVC = "pvc"
    CPVC = "cpvc"
    PEX = "pex"
    HDPE = "hdpe"
    LINED_STEEL = "lined steel"
    UNKNOWN = "unknown"


# Trade words, common practice, no published source. A word that could mean two of our materials is
# left out on purpose: "steel" may be stainless, "iron" may be cast, ductile or black steel pipe,
# "black pipe" may be polyethylene, "plastic" anything.
_SYNONYMS = {
    Material.CARBON_STEEL: "black steel|black iron|mild steel|cs|a53|astm a53|a106|astm a106",
    Material.GALVANIZED_STEEL: "galvanised steel|galvanized|galvanised|galv|galv steel",
    Material.STAINLESS_STEEL: (
        "stainless|ss|304|304l|316|316l|304 stainless|304l stainless|316 stainless|316l stainless"
        "|304 stainless steel|304l stainless steel|316 stainless steel|316l stainless steel"
        "|ss304|ss304l|ss316|ss316l|ss 304|ss 316"
    ),
    Material.COPPER: "cu|copper tube|copper pipe|astm b88|b88",
    Material.CAST_IRON: "ci|gray iron|grey iron|gray cast iron|grey cast iron",
    Material.DUCTILE_IRON: "di",
    Material.PVC: "upvc|pvc-u|polyvinyl chloride",
    Material.CPVC: "pvc-c|chlorinated pvc",
    Material.PEX: "pe-x|pexa|pexb|pex-a|pex-b|cross-linked polyethylene|crosslinked polyethylene",
    Material.HDPE: "pe|pehd|pe-hd|pe100|polyethylene|high-density polyethylene",
    Material.LINED_STEEL: "cement-lined steel|cement lined steel|lined carbon steel",
    Material.UNKNOWN: "not known",
}
_NAMES = MappingProxyType(
    {
        name: material
        for material in Material
        for name in (material.value, *_SYNONYMS[material].split("|"))
    }
)


# A name is no longer than this; what is longer is looked up nowhere.
_LONGEST = 100
# The standard that is written beside a name says how it is made: 'Stahl verzinkt DIN EN 10255',
# 'DIN10255 verz'.
_STANDARD = re.compile(
    r",? ?(?:nach |to )?(?:din |bs |nf )?(?:en |iso )*[0-9][0-9-]*$"
    r"|^(?:(?:din|bs|nf|en|iso) ?)+[0-9][0-9-]*,? "
)


def _national(text: str) -> Material | None:
    """Look a name up in the table of national names, as it stands and without its standard."""
    table, name = built_in_names().materials, small(text)
    bare = _STANDARD.sub("", name, count=1).replace(",", "")
    found = table.get(name) or table.get(small(bare))
    return None if found is None else Material(found)


def parse_material(text: object) -> Material:
    """Read the name of a pipe material, in any case of letters.

    Args:
        text: One of the Material names, or a usual other name such as "black steel" or "316L".

    Returns:
        The material.

    Raises:
        QuantityError: If the word is not known; the names are listed.
    """
    if isinstance(text, Material):
        return text
    named = _national(text) if isinstance(text, str) and len(text) <= _LONGEST else None
    if named is not None:
        return named
    try:
        if not isinstance(text, str):
            raise UnreadableError("a material must be text")
        material = _NAMES.get(plain_text(text, "a material").lower())
    except UnreadableError as fault:
        raise QuantityError(shown(text), str(fault), Material.CARBON_STEEL.value) from None
    if material is None:
        known = ", ".join(item.value for item in Material)
        problem = f"this material is not known, or could be more than one; the names are {known}"
        raise QuantityError(shown(text), problem, Material.CARBON_STEEL.value)
    return material
