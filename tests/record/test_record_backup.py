"""A record taken back from a backup is whole, guarded, and goes on."""

from __future__ import annotations

import sqlite3
import subprocess
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy.engine import make_url

from layoutcheck.record import Kept, Ledger
from tests.record.cluster import programs
from tests.record.conftest import raw_engine
from tests.record.writer import draft


def filled(where: str) -> list[Kept]:
    return [Ledger(where).append(draft("Ann Invented", n, 200)) for n in range(3)]


def goes_on(where: str, kept: list[Kept]) -> None:
    ledger = Ledger(where)
    assert ledger.verify([k.hash for k in kept]).faults == ()
    assert list(ledger.walk()) == kept
    assert ledger.append(draft("Bob Invented", 9, 20)).entry.previous == kept[-1].hash
    assert ledger.verify().whole


def test_a_copy_that_sqlite_makes_while_others_write(tmp_path: Path) -> None:
    where, copied = str(tmp_path / "record.sqlite"), str(tmp_path / "copy.sqlite")
    kept = filled(where)
    source, target = sqlite3.connect(where), sqlite3.connect(copied)
    source.backup(target)
    source.close()
    target.close()
    Ledger(where).append(draft("Later", 3, 20))
    goes_on(copied, kept)


def test_what_pg_dump_wrote_is_taken_back(postgresql_place: str, tmp_path: Path) -> None:
    folder = programs()
    if folder is None:
        pytest.fail("a PostgreSQL server without its programs")
    kept = filled(postgresql_place)
    url = make_url(postgresql_place)
    plain = url.difference_update_query(["options"]).render_as_string(hide_password=False)
    with raw_engine(postgresql_place).connect() as connection:
        schema = connection.scalar(sa.text("SELECT current_schema()"))
    dump = tmp_path / "dump.sql"
    _ran(folder / "pg_dump", "--schema", str(schema), "--file", str(dump), plain)
    with raw_engine(plain).begin() as connection:
        connection.execute(sa.text(f"DROP SCHEMA {schema} CASCADE"))
    _ran(folder / "psql", "-q", "-v", "ON_ERROR_STOP=1", "-f", str(dump), plain)
    goes_on(postgresql_place, kept)


def _ran(*arguments: object) -> None:
    done = subprocess.run([str(a) for a in arguments], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
