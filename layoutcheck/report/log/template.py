"""The log to fill in, made from a report's schedule, as CSV and as JSON."""

from __future__ import annotations

import csv
import hashlib
import io
import json

from layoutcheck.document.tables import guarded
from layoutcheck.physics.schedule import StepKind
from layoutcheck.report.freeze_text import clock
from layoutcheck.report.log.model import LOG_FORMAT, FreezeLog, Line, LogRow, row_data
from layoutcheck.report.model import PlugPart, Report, Verdict

COLUMNS = ("sheet", *LogRow.model_fields)
_FED = {
    StepKind.INJECT.value: Line.INJECT,
    StepKind.INJECT_FURTHER.value: Line.INJECT_FURTHER,
    StepKind.TOP_UP.value: Line.TOP_UP,
}


class NoSchedule(Exception):
    """Raised where a layout gives no schedule, so that there is nothing to log."""


def sheet_mark(report: Report) -> str:
    """Give the mark of a sheet: it changes with the layout and with the figures."""
    both = f"{report.layout.digest}\0{report.pack.digest}"
    return hashlib.sha256(both.encode()).hexdigest()[:12]


def log_template(report: Report) -> FreezeLog:
    """Make the empty log of a compliant report. Raises NoSchedule for any other."""
    if report.verdict is not Verdict.COMPLIANT or not report.plugs:
        raise NoSchedule("a layout that is not compliant has no schedule, and so no log")
    if any(p.freeze.coolant is None for p in report.plugs):
        raise NoSchedule("a layout whose freeze is not worked out has no schedule, and so no log")
    rows = [row for plug in report.plugs for row in _plug_rows(plug)]
    rows += [LogRow(number=1, what=Line.OPENED), LogRow(number=1, what=Line.CLOSED)]
    rows += [LogRow(plug=p.id, number=1, what=Line.STOPPED) for p in report.plugs]
    return FreezeLog(format=LOG_FORMAT, sheet=sheet_mark(report), rows=tuple(rows))


def _look_rows(plug: PlugPart) -> list[LogRow]:
    """Ask for what is seen, at the moments for which the report says how much frost shows."""
    return [
        LogRow(
            plug=plug.id,
            number=number,
            what=Line.LOOK,
            planned_at=clock(sign.time.value),
            planned_for=f"frost on the side that shows less: likely {sign.frost.likely.shown}",
        )
        for number, sign in enumerate(plug.freeze.signs, start=1)
    ]


def _plug_rows(plug: PlugPart) -> list[LogRow]:
    rows: list[LogRow] = []
    numbers = dict.fromkeys(Line, 0)
    for step in plug.freeze.coolant.steps if plug.freeze.coolant else ():
        if step.kind == StepKind.PLUG_DUE.value:
            due = f"due at {clock(step.start.value)}"
            rows.append(LogRow(plug=plug.id, number=1, what=Line.PROVEN, planned_at=due))
        if step.kind not in _FED:
            continue
        what = _FED[step.kind]
        counted = Line.INJECT if what is Line.INJECT_FURTHER else what
        numbers[counted] += 1
        rows.append(
            LogRow(
                plug=plug.id,
                number=numbers[counted],
                what=what,
                planned_at=clock(step.start.value),
                planned_for=step.duration.shown,
                planned_coolant=step.mass.shown,
            )
        )
    return rows + _look_rows(plug)


def log_json(log: FreezeLog) -> bytes:
    """Write a log as JSON."""
    data = {"format": log.format, "sheet": log.sheet, "rows": [row_data(r) for r in log.rows]}
    return (json.dumps(data, indent=2, ensure_ascii=False) + "\n").encode()


def log_csv(log: FreezeLog) -> bytes:
    """Write a log as CSV (RFC 4180, UTF-8 with its mark, which spreadsheets look for)."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\r\n")
    writer.writeheader()
    for row in log.rows:
        cells = {k: "" if v is None else str(v) for k, v in row_data(row).items()}
        writer.writerow({"sheet": log.sheet, **{k: guarded(v) for k, v in cells.items()}})
    return out.getvalue().encode("utf-8-sig")
