"""The table of speed and scale: which rows it has, where its numbers are kept, how it is written.

Timings can not be made again byte for byte, so the numbers are kept in measured.json, with
the day and the kind of machine. The table of MEASURED.md is written from that file, which a test
proves. `python -m tests.bench` measures afresh and writes both.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

MEASURED = Path(__file__).parent / "measured.json"

MARKS = ("<!-- output:bench -->", "<!-- /output:bench -->")

SIZES = (1_000, 10_000, 100_000, 1_000_000)
PLUGS = (2, 20, 200)
USUAL = 20  # plugs
AGAIN_AT = 100_000  # pipes, where a plug is moved

# The targets of the project.
PASSES = 15.0  # a check, in times of one Dijkstra and one biconnected pass
PLAIN = 100.0  # times faster than the plain version at 10 k pipes
EXPONENT = 1.1  # of cost in pipes
EXPONENT_PLUGS = 1.0  # of cost in plugs
MEMORY = 2_000.0  # bytes a pipe above the parsed document
AGAIN = 0.05  # of the first check at 100 k pipes

Numbers = Mapping[str, Any]
Runs = Mapping[str, Numbers]


def key(pipes: int, plugs: int) -> str:
    """Name a run by its size."""
    return f"{pipes} pipes, {plugs} plugs"


@dataclass(frozen=True)
class Row:
    """A row of the first table: what it shows of each run, and what is aimed at."""

    title: str
    show: Callable[[Numbers], str]
    target: str = ""


def passes(run: Numbers) -> float:
    """Give the time (s) of one Dijkstra and one biconnected pass."""
    return float(run["dijkstra"] + run["biconnected"])


def duration(seconds: float) -> str:
    """Write a time with two digits that mean something."""
    if seconds < 1.0:
        return f"{_two_digits(seconds * 1000)} ms"
    return f"{_two_digits(seconds)} s"


def _two_digits(value: float) -> str:
    if value <= 0.0:
        return "0"
    digits = max(0, 1 - math.floor(math.log10(value)))
    return f"{round(value, digits):.{digits}f}"


def times(ratio: float) -> str:
    """Write a ratio."""
    return f"{_two_digits(ratio)} x"


BY_SIZE = (
    Row("read JSON and validate", lambda r: duration(r["json"] + r["validate"])),
    Row("one Dijkstra, one biconnected pass", lambda r: duration(passes(r))),
    Row("the same with laying out both graphs", lambda r: duration(passes(r) + r["laying out"])),
    Row("check: the layout's rules, nearest places", lambda r: duration(r["check"])),
    Row("check / (read and validate)", lambda r: times(r["check"] / (r["json"] + r["validate"]))),
    Row(
        "check / passes",
        lambda r: times(r["check"] / passes(r)),
        f"at most {PASSES:.0f} x",
    ),
    Row(
        "check / passes with laying out",
        lambda r: times(r["check"] / (passes(r) + r["laying out"])),
    ),
    Row(
        "everything in a report, the first time",
        lambda r: duration(r["report"]) if "report" in r else "not run",
    ),
    Row(
        "the same again but for the joint mending, the ice known",
        lambda r: duration(r["glance"]) if "glance" in r else "not run",
    ),
    Row(
        "peak memory above the parsed document, a pipe",
        lambda r: f"{_two_digits(r['memory'] / 1000)} kB" if "memory" in r else "not run",
        f"at most {MEMORY / 1000:.0f} kB",
    ),
)


def slope(pairs: Mapping[float, float]) -> float:
    """Fit the exponent b in y = a x^b by least squares on the logarithms."""
    xs = [math.log(x) for x in pairs]
    ys = [math.log(y) for y in pairs.values()]
    middle, centre = sum(xs) / len(xs), sum(ys) / len(ys)
    above = sum((x - middle) * (y - centre) for x, y in zip(xs, ys, strict=True))
    return above / sum((x - middle) ** 2 for x in xs)


def exponent_in_pipes(runs: Runs, plugs: int) -> float | None:
    """Fit the exponent of a check's cost in pipes."""
    found = {
        float(runs[key(n, plugs)]["pipes"]): float(runs[key(n, plugs)]["check"])
        for n in SIZES
        if "check" in runs.get(key(n, plugs), {})
    }
    return slope(found) if len(found) > 1 else None


def exponent_in_plugs(runs: Runs, pipes: int) -> float | None:
    """Fit the exponent of a check's cost in plugs."""
    found = {
        float(k): float(runs[key(pipes, k)]["check"])
        for k in PLUGS
        if "check" in runs.get(key(pipes, k), {})
    }
    return slope(found) if len(found) > 1 else None


def _head(title: str, columns: list[str]) -> list[str]:
    return [
        "| " + " | ".join([title, *columns, "aim"]) + " |",
        "| --- |" + " ---: |" * len(columns) + " --- |",
    ]


def _line(title: str, cells: list[str], target: str = "") -> str:
    return "| " + " | ".join([title, *cells, target]) + " |"


def _sizes(runs: Runs) -> list[str]:
    lines = _head(f"with {USUAL} plugs", [f"{n:,} pipes".replace(",", " ") for n in SIZES])
    for row in BY_SIZE:
        cells = [
            row.show(runs[key(n, USUAL)]) if key(n, USUAL) in runs else "not run" for n in SIZES
        ]
        lines.append(_line(row.title, cells, row.target))
    return lines


def _cell(runs: Runs, pipes: int, plugs: int, name: str) -> str:
    run = runs.get(key(pipes, plugs), {})
    return duration(run[name]) if name in run else "not run"


def _plugs(runs: Runs) -> list[str]:
    lines = _head("check, by plugs", [f"{k} plugs" for k in PLUGS])
    for n in SIZES:
        cells = [_cell(runs, n, k, "check") for k in PLUGS]
        fitted = exponent_in_plugs(runs, n)
        grows = "" if fitted is None else f"grows as plugs^{fitted:.2f}; aim: at most linearly"
        lines.append(_line(f"{n:,} pipes".replace(",", " "), cells, grows))
    lines.append(
        _line("plain version, 10 000 pipes", [_cell(runs, 10_000, k, "plain") for k in PLUGS])
    )
    ratios = []
    for k in PLUGS:
        run = runs.get(key(10_000, k), {})
        ratios.append(times(run["plain"] / run["check"]) if "plain" in run else "not run")
    lines.append(_line("plain / check, 10 000 pipes", ratios, f"at least {PLAIN:.0f} x"))
    growth = [_growth(runs, k) for k in PLUGS]
    lines.append(_line("growth in pipes, from 1 000", growth, f"at most pipes^{EXPONENT}"))
    return lines


def _growth(runs: Runs, plugs: int) -> str:
    fitted = exponent_in_pipes(runs, plugs)
    if fitted is None:
        return "not run"
    most = max(n for n in SIZES if "check" in runs.get(key(n, plugs), {}))
    return f"pipes^{fitted:.2f} up to {most:,}".replace(",", " ")


def _single(measured: Mapping[str, Any]) -> list[str]:
    runs: Runs = measured["runs"]
    run = runs.get(key(AGAIN_AT, USUAL), {})
    lines = ["| | measured | aim |", "| --- | ---: | --- |"]
    if "again" in run:
        share = 100 * run["again"] / run["check"]
        same = "the same bytes" if run["again same"] else "OTHER BYTES"
        shown = f"{_two_digits(share)} %, {same} as a fresh check"
        title = "one plug moved, checked again, 100 000 pipes (share of the first check)"
        lines.append(f"| {title} | {shown} | at most {100 * AGAIN:.0f} % |")
    for title, row in sorted(measured.get("service", {}).items()):
        lines.append(f"| {title} | {row['measured']} | {row['aim']} |")
    return lines


def table(measured: Mapping[str, Any]) -> str:
    """Write the whole table in Markdown."""
    head = (
        f"Measured on {measured['day']} on {measured['machine']}, processor time, one process for "
        "each column; what is compared ran in the same process."
    )
    runs: Runs = measured["runs"]
    parts = [[head], _sizes(runs), _plugs(runs), _single(measured)]
    return "\n\n".join("\n".join(part) for part in parts)


def put_in(text: str) -> str:
    """Put the table between its marks in a text."""
    start, end = MARKS
    before, _, rest = text.partition(start)
    _, found, after = rest.partition(end)
    assert found, f"there is no place {start}"
    return f"{before}{start}\n{table(read())}\n{end}{after}"


def read() -> dict[str, Any]:
    """Read the numbers that were measured last."""
    found: dict[str, Any] = json.loads(MEASURED.read_text(encoding="utf-8"))
    return found


def write(measured: Mapping[str, Any]) -> None:
    """Keep the numbers measured."""
    MEASURED.write_text(json.dumps(measured, indent=1, sort_keys=True) + "\n", encoding="utf-8")
