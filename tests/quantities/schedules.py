"""Make the table of schedules and dimension ratios: `python -m tests.quantities.schedules`."""

from __future__ import annotations

import json

from fluids.piping import nearest_pipe

from layoutcheck.quantities.pipes import SCHEDULES, TABLE
from layoutcheck.quantities.sizes import NPS_TO_DN

NOTE = (
    "Made with the fluids library (its tables of ASME B36.10M and B36.19M, ASTM D1785, F441 and "
    "F2619) by python -m tests.quantities.schedules. For each of the library's keys, by nominal "
    "inches: outside diameter, bore and wall in m."
)


def made() -> dict[str, dict[str, list[float]]]:
    """Make the table: only the very sizes that the library holds."""
    rows: dict[str, dict[str, list[float]]] = {}
    for key in SCHEDULES:
        rows[key] = {}
        for inches in map(float, NPS_TO_DN):
            try:
                nominal, bore, outside, wall = nearest_pipe(NPS=inches, schedule=key)  # type: ignore[arg-type]
            except ValueError:
                continue
            # The library looks for the nearest; only the very size asked for will do.
            if nominal == inches:
                rows[key][repr(inches)] = [float(outside), float(bore), float(wall)]
    return rows


def text() -> str:
    """Write the table."""
    lines = [f" {json.dumps(key)}: {json.dumps(row)}" for key, row in sorted(made().items())]
    return "{\n" + ",\n".join([f' "note": {json.dumps(NOTE)}', *lines]) + "\n}\n"


if __name__ == "__main__":
    TABLE.write_text(text(), encoding="utf-8")
