"""The layout document: what a person writes down about a site, read strictly."""

from layoutcheck.document.digest import canonical_json, digest_of
from layoutcheck.document.faults import Fault, LayoutFaults
from layoutcheck.document.models import Layout
from layoutcheck.document.read import parse_layout, read_text

__all__ = [
    "Fault",
    "Layout",
    "LayoutFaults",
    "canonical_json",
    "digest_of",
    "parse_layout",
    "read_text",
]
