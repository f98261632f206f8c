"""One measurement, in a process of its own: `python -m tests.bench.measure PIPES PLUGS TASK...`.

Prints a JSON object of numbers. Times are seconds of this process's processor (the machine may be
shared), memory is in bytes. What is compared is always measured in one and the same process. The
parsed document is frozen for Python's garbage collector before anything is timed, for both sides.

Tasks: `time` (parsing, passes, checks), `plain` (the plain version too), `again` (a plug moved),
`report` (everything a report holds), `memory` (the peak above the parsed document; alone).
"""

from __future__ import annotations

import ctypes
import gc
import json
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import rustworkx as rx
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from layoutcheck.document import Layout, parse_layout, read_text
from layoutcheck.network import Network
from layoutcheck.report import check
from layoutcheck.report.run import glance
from tests.bench.campus import campus
from tests.bench.core import (
    Checked,
    canonical,
    check_again,
    check_layout_rules,
    core_outcomes,
)
from tests.bench.plain import PlainCheck

T = TypeVar("T")
Numbers = dict[str, Any]

# A small site is checked several times, and the least time counts.
SETTLED_AFTER = 0.5  # s
# How far a plug is moved along its pipe, m: what a hand does between two frames of a drag.
DRAG = 0.05


def timed(run: Callable[[], T]) -> tuple[float, T]:
    """Give the least time of a few runs, and what the last one gave."""
    best, spent = float("inf"), 0.0
    while spent < SETTLED_AFTER:
        start = time.process_time()
        result = run()
        took = time.process_time() - start
        best, spent = min(best, took), spent + max(took, 1e-3)
    return best, result


def warm_up() -> None:
    """Import and compile everything that the first check would."""
    layout = parse_layout(campus(120, 2))
    check(layout)
    check_layout_rules(layout)


def parse(pipes: int, plugs: int, numbers: Numbers) -> Layout:
    """Invent a site, write it down, read it back."""
    text = json.dumps(campus(pipes, plugs))
    numbers["json"], data = timed(partial(read_text, text))
    numbers["validate"], layout = timed(partial(parse_layout, data))
    numbers["pipes"], numbers["plugs"] = len(layout.pipes), len(layout.plugs)
    del data, text
    gc.collect()
    gc.freeze()
    return layout


def passes(network: Network, numbers: Numbers) -> None:
    """Time one multi-source Dijkstra and one pass for biconnected components on the same graph."""
    ends, size = network.ends, network.node_count
    sources = np.array(sorted(network.sources))
    # scipy reads an entry of zero as an edge of no length only if it is stored: all are.
    length = network.length

    def lay_out() -> csr_array:
        return csr_array((length, (ends[:, 0], ends[:, 1])), shape=(size, size))

    def lay_out_graph() -> rx.PyGraph:
        graph = rx.PyGraph(multigraph=False)
        graph.add_nodes_from(range(size))
        graph.add_edges_from_no_data([(int(a), int(b)) for a, b in ends.tolist()])
        return graph

    matrix_time, matrix = timed(lay_out)
    graph_time, graph = timed(lay_out_graph)
    numbers["laying out"] = matrix_time + graph_time
    numbers["dijkstra"], _ = timed(
        lambda: dijkstra(matrix, directed=False, indices=sources, min_only=True)
    )
    numbers["biconnected"], _ = timed(lambda: rx.biconnected_components(graph))
    numbers["pieces"], numbers["nodes"] = len(length), size


def check_once(layout: Layout, numbers: Numbers) -> Checked:
    """Time a check of the layout's rules."""
    numbers["check"], checked = timed(lambda: check_layout_rules(layout))
    passes(checked.case.network, numbers)
    return checked


def check_plain(layout: Layout, checked: Checked, numbers: Numbers) -> None:
    """Time the plain version, and compare what it finds."""
    start = time.process_time()
    found = PlainCheck(layout).everything()
    numbers["plain"] = time.process_time() - start
    numbers["plain same"] = canonical(found) == canonical(core_outcomes(checked))


def check_moved(layout: Layout, checked: Checked, numbers: Numbers) -> None:
    """Time what a drag does: one plug moved, everything checked again."""
    plug = next(p for p in layout.plugs if p.pipe is not None)
    station = (plug.station or 0.0) + DRAG
    numbers["again"], again = timed(lambda: check_again(checked, plug.id, station))
    moved = tuple(
        p.model_copy(update={"station": station}) if p.id == plug.id else p for p in layout.plugs
    )
    fresh = check_layout_rules(layout.model_copy(update={"plugs": moved}))
    numbers["again same"] = canonical(core_outcomes(again)) == canonical(core_outcomes(fresh))


def check_report(layout: Layout, numbers: Numbers) -> None:
    """Time everything a report holds the first time; then what is judged again as a plug moves."""
    start = time.process_time()
    check(layout)
    numbers["report"] = time.process_time() - start
    numbers["glance"], _ = timed(lambda: glance(layout))


def measure_memory(layout: Layout) -> float:
    """Measure how far the process grows above the parsed document in one check: bytes a pipe.

    Memory that parsing freed is first given back, and the kernel's high-water mark reset (Linux).
    """
    gc.collect()
    ctypes.CDLL("libc.so.6").malloc_trim(0)
    Path("/proc/self/clear_refs").write_text("5")
    before = _high_water()
    check_layout_rules(layout)
    return (_high_water() - before) / len(layout.pipes)


def _high_water() -> int:
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(x.split()[1]) * 1024 for x in lines if x.startswith("VmHWM"))


def main(pipes: int, plugs: int, tasks: set[str]) -> Numbers:
    """Run the tasks asked for on one site."""
    numbers: Numbers = {}
    warm_up()
    layout = parse(pipes, plugs, numbers)
    if "memory" in tasks:
        return {"memory": measure_memory(layout)}
    checked = check_once(layout, numbers)
    if "plain" in tasks:
        check_plain(layout, checked, numbers)
    if "again" in tasks:
        check_moved(layout, checked, numbers)
    if "report" in tasks:
        check_report(layout, numbers)
    return numbers


if __name__ == "__main__":
    print(json.dumps(main(int(sys.argv[1]), int(sys.argv[2]), set(sys.argv[3:]))))
