"""The result as a Parquet file: one row for each item, in the order of sites and items.

What stands in it depends on the documents, the settings and the version alone: not on the order
in which workers finished, nor on how often the survey was cut short. No time of day is in it.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from itertools import islice
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from layoutcheck.survey.journal import flush_folder
from layoutcheck.survey.row import Row

FORMAT = "layoutcheck survey 1"

_TEXT, _TEXTS = pa.string(), pa.list_(pa.string())
_NUMBER, _WHOLE = pa.float64(), pa.int64()
_COUNTS = pa.list_(pa.struct([("what", _TEXT), ("number", _WHOLE)]))
_PLUG = pa.struct(
    [
        ("id", _TEXT),
        ("pipe", _TEXT),
        ("station_m", _NUMBER),
        ("jacket_m", _NUMBER),
        ("size", _TEXT),
        ("coolant", _TEXT),
    ]
)

# The columns of the table: what is asked, the answer, then the plan. Empty where there is none.
COLUMNS: tuple[tuple[str, pa.DataType], ...] = (
    ("site", _TEXT),
    ("layout", _TEXT),
    ("kind", _TEXT),
    ("id", _TEXT),
    ("name", _TEXT),
    ("of_kind", _TEXT),
    ("size", _TEXT),
    ("inches", _NUMBER),
    ("duration_s", _NUMBER),
    ("duration_assumed", pa.bool_()),
    ("answer", _TEXT),
    ("found", _TEXT),
    ("stopped", _TEXT),
    ("reason", _TEXT),
    ("bound", _NUMBER),
    ("tried", _WHOLE),
    ("hindrances", _COUNTS),
    ("to_settle", _TEXTS),
    ("faults", _TEXTS),
    ("points", _NUMBER),
    ("plugs", pa.list_(_PLUG)),
    ("plugs_by_size", _COUNTS),
    ("valves_to_close", _TEXTS),
    ("valves_to_prove", _TEXTS),
    ("outlets", pa.list_(pa.struct([("id", _TEXT), ("action", _TEXT)]))),
    ("machines_to_lock", _TEXTS),
    ("carbon_dioxide_kg", _NUMBER),
    ("nitrogen_kg", _NUMBER),
    ("until_open_s", _NUMBER),
    ("outlets_out_of_service", _TEXTS),
    ("drained_m3", _NUMBER),
    ("missing", _TEXTS),
)

# Rows that are in memory at a time.
_GROUP = 5_000


def write_table(path: Path, rows: Iterable[tuple[str, Row]], about: Mapping[str, object]) -> int:
    """Write the result whole or not at all; give the number of rows.

    about: what the table's metadata says of the run, as JSON data.
    """
    told = {"layoutcheck": json.dumps({"format": FORMAT, **about}, sort_keys=True)}
    schema = pa.schema(list(COLUMNS), metadata=told)
    written = 0
    with whole_file(path) as made, pq.ParquetWriter(made, schema, compression="zstd") as writer:
        for group in _groups(rows):
            writer.write_table(pa.Table.from_pylist(group, schema=schema))
            written += len(group)
    return written


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Give a path to write to, which takes the place of the file once all is on the disk."""
    made = path.with_name(f".{path.name}.part")
    try:
        yield made
        with made.open("rb+") as stream:
            os.fsync(stream.fileno())
        os.replace(made, path)
        flush_folder(path.parent)
    finally:
        made.unlink(missing_ok=True)


def _groups(rows: Iterable[tuple[str, Row]]) -> Iterator[list[dict[str, object]]]:
    flat = (_flat(site, row) for site, row in rows)
    while group := list(islice(flat, _GROUP)):
        yield group


def _flat(site: str, row: Row) -> dict[str, object]:
    """Put the plan's fields beside the row's own."""
    own = row.model_dump(mode="json")
    plan = own.pop("plan") or {}
    return {"site": site, **own, **plan}
