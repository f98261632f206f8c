"""What a drawing is to draw attention to: refused where it is not there."""

from __future__ import annotations

import difflib

from layoutcheck.document.by_ref import own_id
from layoutcheck.document.faults import shown
from layoutcheck.document.models import ELEMENT_LISTS, Layout
from layoutcheck.report.model import Report


class NothingToHighlight(ValueError):
    """Raised where nothing has the id: a drawing without it would look like an answer."""


def picked(layout: Layout, report: Report, text: str) -> str:
    """Give the id of the element or finding that a text names, by its id or its ref.

    Raises NothingToHighlight.
    """
    found = own_id(layout, text)
    known = [e.id for name in ELEMENT_LISTS for e in getattr(layout, name)]
    known += [f.id for f in report.findings]
    if found in known:
        return found
    near = difflib.get_close_matches(found, known, n=1)
    meant = f"; is {shown(near[0])} meant?" if near else ""
    raise NothingToHighlight(f"nothing to highlight has the id {shown(found, 100)!r}{meant}")
