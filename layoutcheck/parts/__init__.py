"""The parts list: every package that this installation is made of, with its licence.

It is read from what the installer wrote down beside each package, so it tells what is installed,
not what was meant to be. For programs it is a CycloneDX document (an open standard, ECMA-424).
"""

from layoutcheck.parts.closure import Installation, UnknownExtra, installation
from layoutcheck.parts.cyclonedx import cyclonedx_json
from layoutcheck.parts.model import Inside, Part
from layoutcheck.parts.text import parts_text

__all__ = [
    "Inside",
    "Installation",
    "Part",
    "UnknownExtra",
    "cyclonedx_json",
    "installation",
    "parts_text",
]
