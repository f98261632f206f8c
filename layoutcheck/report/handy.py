"""What programs and notebooks expect of a report: findings by outcome, tables, a map, a picture."""

from __future__ import annotations

import html
from collections.abc import Iterable, Iterator
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal, SupportsIndex, TypeVar, cast, get_args, overload

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema

from layoutcheck.rules.outcome import Outcome

if TYPE_CHECKING:
    import pandas as pd

    from layoutcheck.document.models import Layout
    from layoutcheck.report.model import At, Finding, Measure, PlugPart, Report

T = TypeVar("T")


class ById(tuple[T, ...]):
    """A tuple of parts with ids, which may be asked for by number or by id.

    >>> from layoutcheck.report.model import NamedPart
    >>> ById([NamedPart(kind="plug", id="F1")])["F1"].kind
    'plug'
    """

    __slots__ = ()

    @overload
    def __getitem__(self, key: SupportsIndex) -> T: ...
    @overload
    def __getitem__(self, key: slice) -> tuple[T, ...]: ...
    @overload
    def __getitem__(self, key: str) -> T: ...
    def __getitem__(self, key: SupportsIndex | slice | str) -> T | tuple[T, ...]:
        """Give one by its number or its id; KeyError names the ids there are."""
        if not isinstance(key, str):
            return super().__getitem__(key)
        for part in self:
            if getattr(part, "id", None) == key:
                return part
        known = ", ".join(str(getattr(part, "id", "?")) for part in self)
        raise KeyError(f"{key}; there are {known or 'none'}")

    @classmethod
    def __get_pydantic_core_schema__(
        cls,
        source: Any,  # noqa: ANN401 - a type with its argument
        handler: GetCoreSchemaHandler,
    ) -> CoreSchema:
        """Have it read and written as the tuple that it is."""
        (inner,) = get_args(source)
        return core_schema.no_info_after_validator_function(cls, handler(tuple[inner, ...]))  # type: ignore[valid-type]


class Handy:
    """Helpers of a report; they add nothing to what it says."""

    if TYPE_CHECKING:  # what a report has
        findings: tuple[Finding, ...]
        plugs: ById[PlugPart]

    @cached_property
    def site(self) -> Layout | None:
        """The layout that was judged; None where the report was read from a file."""
        return None

    @property
    def broken(self) -> tuple[Finding, ...]:
        """The findings that are broken, the gravest action first."""
        return self._of(Outcome.BROKEN)

    @property
    def undecided(self) -> tuple[Finding, ...]:
        """The findings that can not be decided for want of a fact."""
        return self._of(Outcome.UNDECIDED)

    def _of(self, outcome: Outcome) -> tuple[Finding, ...]:
        found = [f for f in self.findings if f.outcome is outcome]
        return tuple(sorted(found, key=lambda f: (f.action is None, f.action or 0)))

    def to_frame(self, of: Literal["findings", "plugs"] = "findings") -> pd.DataFrame:
        """Give findings or plugs as a pandas table: one row each, SI numbers with the unit named.

        Raises ImportError where pandas is not installed.
        """
        import pandas as pd  # noqa: PLC0415 - not needed by anything else

        rows = map(_finding_row, self.findings) if of == "findings" else map(_plug_row, self.plugs)
        return pd.DataFrame(list(rows))

    def to_geojson(self) -> dict[str, Any]:
        """Give plugs and findings with a place as a GeoJSON FeatureCollection (RFC 7946).

        Coordinates are those of the drawing, not of the earth (section 4: by prior arrangement).
        """
        return {"type": "FeatureCollection", "features": list(_features(self))}

    def _repr_html_(self) -> str:
        """Show the drawing in a notebook; the report as text where the layout is not at hand."""
        from layoutcheck.report.text import report_text  # noqa: PLC0415 - for notebooks alone

        report = cast("Report", self)
        told = f"<pre>{html.escape(report_text(report))}</pre>"
        if self.site is None:
            return told
        from layoutcheck.report.drawing import draw_svg  # noqa: PLC0415

        return f"{draw_svg(self.site, report)}\n{told}"


def _finding_row(finding: Finding) -> dict[str, Any]:
    return {
        "id": finding.id,
        "rule": finding.rule,
        "outcome": finding.outcome.value,
        "severity": finding.severity.value,
        "gravity": finding.gravity.value,
        "subject_kind": finding.subject.kind,
        "subject_id": finding.subject.id,
        "subject_ref": finding.subject.ref,
        "measured": _number(finding.measured),
        "required": _number(finding.required),
        "unit": next((m.unit for m in (finding.measured, finding.required) if m), None),
        "action": finding.action,
        "says": finding.says,
    }


def _plug_row(plug: PlugPart) -> dict[str, Any]:
    move = plug.nearest
    return {
        "id": plug.id,
        "ref": plug.ref,
        "pipe": plug.at.pipe,
        "station_m": _number(plug.at.station),
        "well_placed": plug.well_placed,
        "clear_by_m": _number(plug.clear_by),
        "nearest_pipe": None if move is None else move.pipe,
        "nearest_station_m": None if move is None else move.station.value,
        "nearest_tape": None if move is None else move.tape.shown,
        "travel_m": None if move is None else move.travel.value,
        "freeze": plug.freeze.outcome,
        "due_s": _number(plug.freeze.due),
    }


def _number(measure: Measure | None) -> float | None:
    return None if measure is None else measure.value


def _features(report: Handy) -> Iterator[dict[str, Any]]:
    for plug in report.plugs:
        yield from _feature("plug", _plug_row(plug), (plug.at,))
    for finding in report.findings:
        where = (finding.where,) if finding.where is not None else ()
        yield from _feature("finding", _finding_row(finding), where)


def _feature(kind: str, row: dict[str, Any], places: Iterable[At]) -> Iterator[dict[str, Any]]:
    for at in places:
        if at.point is not None:
            geometry = {"type": "Point", "coordinates": list(at.point)}
            yield {
                "type": "Feature",
                "id": row["id"],
                "geometry": geometry,
                "properties": {"kind": kind, **row},
            }
