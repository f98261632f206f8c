"""What stands open as the job goes on, so that no step opens what is open or shuts what is shut."""

from __future__ import annotations

from layoutcheck.document.models import Moment, OutletState, ValveState
from layoutcheck.report.sheet.model import Tick, Turn
from layoutcheck.rules.case import Case


class Standing:
    """The outlets and valves that stand open, step by step.

    A passing valve counts as shut here: it was turned shut, though it lets water by.
    """

    def __init__(self, case: Case) -> None:
        """Begin with how things stand when the first cylinder is opened."""
        self._open = opened_before(case)

    def is_open(self, name: str) -> bool:
        """Tell whether an outlet or valve stands open now."""
        return name in self._open

    def opening(self, name: str, text: str, why: str = "") -> Tick:
        """Write the step that opens something, and remember it."""
        assert name not in self._open, f"{name} is open already"
        self._open.add(name)
        return Tick(text, why, (Turn(name, opens=True),))

    def shutting(self, name: str, text: str, why: str = "") -> Tick:
        """Write the step that shuts something, and remember it."""
        assert name in self._open, f"{name} is shut already"
        self._open.remove(name)
        return Tick(text, why, (Turn(name, opens=False),))


def opened_before(case: Case) -> set[str]:
    """Give what stands open at the first injection: outlets kept open, and valves not shut."""
    layout = case.layout
    kept = {o.id for o in layout.outlets if o.at(Moment.FREEZING) is OutletState.KEPT_OPEN}
    return kept | {v.id for v in layout.valves if v.at(Moment.FREEZING) is ValveState.OPEN}
