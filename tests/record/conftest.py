"""A fresh record in each database, and a way to change it behind its back."""

from __future__ import annotations

import os
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

import pytest
import sqlalchemy as sa
from sqlalchemy import Connection
from sqlalchemy.pool import NullPool

from layoutcheck.record import Kept, Ledger
from layoutcheck.record.migrations.versions.v0001_entries_and_texts import SQLITE
from layoutcheck.record.tables import entries, texts
from tests.conftest import Require
from tests.record.cluster import Cluster, programs
from tests.record.writer import draft

# URL of a database in which the tests may make schemas. Without it they start a server.
# Not LAYOUTCHECK_…: what begins like that is a setting of the service.
POSTGRESQL_VARIABLE = "TEST_POSTGRESQL_URL"
DATABASES = ("sqlite", "postgresql")


@pytest.fixture(scope="session")
def make_cluster(require: Require) -> Iterator[Cluster]:
    """A server that the tests own, so that they may kill it."""
    folder = programs()
    if folder is None:
        require.file(Path("/usr/lib/postgresql"), brought_by="Debian's package postgresql")
        pytest.fail("PostgreSQL is there without initdb and pg_ctl")
    cluster = Cluster(folder)
    try:
        cluster.start()
        yield cluster
    finally:
        cluster.remove()


@pytest.fixture(scope="session")
def postgresql(request: pytest.FixtureRequest) -> str:
    """URL of a PostgreSQL database: the one named in the environment, or of our own server."""
    given = os.environ.get(POSTGRESQL_VARIABLE)
    if given:
        return given
    cluster: Cluster = request.getfixturevalue("make_cluster")
    return cluster.url


def raw_engine(where: str) -> sa.Engine:
    """Open a record's database without any of the record's own code."""
    url = where.replace("postgresql://", "postgresql+psycopg://", 1)
    if "://" not in where:
        url = f"sqlite:///{where}"
    return sa.create_engine(url, poolclass=NullPool)


@contextmanager
def fresh_schema(database: str) -> Iterator[str]:
    """A schema of its own within a database; gives a URL that leads there."""
    name = f"t{uuid.uuid4().hex}"
    engine = raw_engine(database)
    with engine.begin() as connection:
        connection.execute(sa.text(f"CREATE SCHEMA {name}"))
    joint = "&" if "?" in database else "?"
    yield f"{database}{joint}options={quote(f'-csearch_path={name}', safe='')}"
    with engine.begin() as connection:
        connection.execute(sa.text(f"DROP SCHEMA {name} CASCADE"))


@pytest.fixture(params=DATABASES)
def where(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Where a fresh record may be begun: once in each database."""
    if request.param == "sqlite":
        yield str(tmp_path / "record.sqlite")
        return
    with fresh_schema(request.getfixturevalue("postgresql")) as url:
        yield url


@pytest.fixture
def postgresql_place(postgresql: str) -> Iterator[str]:
    """Where a fresh record may be begun, in PostgreSQL."""
    with fresh_schema(postgresql) as url:
        yield url


@dataclass(frozen=True)
class Five:
    """A record of five entries, which a test may spoil."""

    where: str
    kept: list[Kept]


@pytest.fixture(scope="session", params=DATABASES)
def five_entries(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Five]:
    if request.param == "sqlite":
        yield _five(str(tmp_path_factory.mktemp("five") / "record.sqlite"))
        return
    with fresh_schema(request.getfixturevalue("postgresql")) as url:
        yield _five(url)


def _five(where: str) -> Five:
    ledger = Ledger(where)
    return Five(where, [ledger.append(draft("Ann Invented", n, 40)) for n in range(5)])


@pytest.fixture
def five(five_entries: Five) -> Iterator[Five]:
    """Five entries in each database, put back afterwards."""
    tables = (texts, entries)
    with raw_engine(five_entries.where).connect() as connection:
        rows = {t: [dict(r._mapping) for r in connection.execute(sa.select(t))] for t in tables}
    yield five_entries
    with behind_its_back(five_entries.where) as connection:
        for table in reversed(tables):
            connection.execute(sa.delete(table))
        for table in tables:
            connection.execute(sa.insert(table), rows[table])


@contextmanager
def behind_its_back(where: str) -> Iterator[Connection]:
    """Open a record with its guards off, and put them back afterwards, as a forger would."""
    engine = raw_engine(where)
    with engine.begin() as connection:
        if engine.dialect.name == "postgresql":
            _switch_guards(connection, "DISABLE")
            yield connection
            _switch_guards(connection, "ENABLE")
            return
        guards = connection.execute(
            sa.text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        ).all()
        assert len(guards) == len(SQLITE)
        for name, _ in guards:
            connection.execute(sa.text(f"DROP TRIGGER {name}"))
        yield connection
        for _, statement in guards:
            connection.exec_driver_sql(statement)


def _switch_guards(connection: Connection, how: str) -> None:
    for table in ("layoutcheck_entries", "layoutcheck_texts"):
        connection.execute(sa.text(f"ALTER TABLE {table} {how} TRIGGER ALL"))
