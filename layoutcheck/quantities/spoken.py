"""Words of the trade for what a document calls by one word of its own: 'dry ice', 'shut', 'boiler'.

They are read wherever the word is: in the long form, the short form and on the command line. What
could mean two of our words is left out on purpose. Trade words, common practice, no published
source.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Self


class Spoken(StrEnum):
    """One of a few words, each with other words that mean the same, in any case of letters."""

    @classmethod
    def also(cls) -> Mapping[str, str]:
        """Give the other words (small letters) and what each of them means."""
        return {}

    @classmethod
    def _missing_(cls, value: object) -> Self | None:
        if not isinstance(value, str) or len(value) > _LONGEST:
            return None
        low = " ".join(value.lower().split())
        return next((word for word in cls if word.value == cls.also().get(low, low)), None)


# No word is longer; what is longer is looked up nowhere.
_LONGEST = 40


class CoolantName(Spoken):
    """What freezes the plug."""

    CARBON_DIOXIDE = "carbon dioxide"
    NITROGEN = "nitrogen"

    @classmethod
    def also(cls) -> Mapping[str, str]:
        """Give the other words (small letters) and what each of them means."""
        ice = ("dry ice", "co2", "liquid co2", "liquid carbon dioxide")
        cold = ("liquid nitrogen", "ln2", "n2", "lin")
        return {**dict.fromkeys(ice, "carbon dioxide"), **dict.fromkeys(cold, "nitrogen")}
