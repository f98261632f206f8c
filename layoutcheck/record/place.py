"""Where a record is kept: a SQLite file, or PostgreSQL by URL; and how it is opened safely."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError
from sqlalchemy.pool import NullPool

from layoutcheck.document.faults import shown
from layoutcheck.record.problems import NoRecord, UnsoundPlace

# How long one writer waits for the others (s).
PATIENCE = 30
# How long a database may take to answer a call (s).
CALL_PATIENCE = 10

# Held while an entry is added, so that writers take turns. Any number would do that nobody else
# uses in the same database; this one begins the SHA-256 of "layoutcheck record".
LOCK = 0x94B_A3AE_596C_083E

_SQLITE = {"sqlite", "sqlite+pysqlite"}
_POSTGRESQL = {"postgres", "postgresql", "postgresql+psycopg"}


class Access(Enum):
    """What a record is opened for."""

    READ = "read"
    WRITE = "write"
    BEGIN = "begin"


@dataclass(frozen=True)
class Place:
    """A record's place. file: the SQLite file; url: PostgreSQL's URL; exactly one is there."""

    file: Path | None = None
    url: URL | None = None

    @property
    def shown(self) -> str:
        """Name the place for people, without the user, the password or any option."""
        if self.file is not None:
            return shown(str(self.file), 200)
        assert self.url is not None
        host = shown(self.url.host or "this machine", 100)
        return f"PostgreSQL database {shown(self.url.database or '', 100)} on {host}"


def place_of(where: str) -> Place:
    """Read a path or a URL: sqlite:///FILE or postgresql://…. Raises UnsoundPlace.

    What can not be read is not repeated in the message: it may hold a password.
    """
    if "://" not in where:
        return _file_place(where)
    scheme = where.partition("://")[0].lower()
    if scheme not in _SQLITE | _POSTGRESQL:
        raise UnsoundPlace(f"a record is not kept in a database of that kind: {_RIGHT}")
    try:
        url = make_url(where)
    except (ArgumentError, ValueError):
        raise UnsoundPlace(f"the record's URL can not be read: {_RIGHT}") from None
    if scheme in _SQLITE:
        if not url.database or url.host or url.query:
            raise UnsoundPlace(f"the record's URL names no file: {_RIGHT}")
        return Place(file=Path(url.database))
    if not url.database:
        raise UnsoundPlace(f"the record's URL names no database: {_RIGHT}")
    if _holds_mark(url.host) or _holds_mark(url.database):
        raise UnsoundPlace(
            "the record's URL can not be read; is a sign of the password not written as %XX? "
            f"{_RIGHT}"
        )
    return Place(url=url.set(drivername="postgresql+psycopg"))


def _file_place(where: str) -> Place:
    if not where or "\0" in where:
        raise UnsoundPlace("the record's file has no name.")
    if where.partition(":")[0].lower() in _SQLITE | _POSTGRESQL:
        raise UnsoundPlace(f"the record's URL can not be read: {_RIGHT}")
    return Place(file=Path(where))


def _holds_mark(part: str | None) -> bool:
    """Tell whether a part holds what parts a password from a host: then the URL was misread."""
    return any(mark in (part or "") for mark in "@:?#")


_RIGHT = "give a file, sqlite:///FILE or postgresql://USER@HOST/DATABASE."


def engine_for(place: Place, access: Access) -> Engine:
    """Make an engine that opens one connection for each piece of work and keeps none.

    So it may be made anew at any time and in any process. Raises NoRecord and UnsoundPlace.
    """
    if place.file is not None:
        return _sqlite_engine(place.file, access)
    assert place.url is not None
    engine = create_engine(
        place.url,
        poolclass=NullPool,
        hide_parameters=True,
        connect_args={"connect_timeout": CALL_PATIENCE},
    )
    if access is Access.READ:
        # One state of the whole record, however long the reading takes.
        return engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
    return engine.execution_options(isolation_level="READ COMMITTED")


def _sqlite_engine(file: Path, access: Access) -> Engine:
    if file.is_dir():
        raise UnsoundPlace(f"{shown(str(file), 200)} is a folder, not a file.")
    if access is not Access.BEGIN and not file.exists():
        raise NoRecord(f"there is no record at {shown(str(file), 200)}.")
    engine = create_engine(
        "sqlite+pysqlite://",
        creator=_sqlite_opener(file, access),
        poolclass=NullPool,
        hide_parameters=True,
    )
    begin = "BEGIN" if access is Access.READ else "BEGIN IMMEDIATE"

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine


def _sqlite_opener(file: Path, access: Access) -> Callable[[], sqlite3.Connection]:
    mode = {Access.READ: "ro", Access.WRITE: "rw", Access.BEGIN: "rwc"}[access]
    if access is Access.READ and _is_sealed(file):
        mode += "&immutable=1"
    address = f"file:{quote(str(file.absolute()))}?mode={mode}"

    def opened() -> sqlite3.Connection:
        made = sqlite3.connect(
            address, uri=True, timeout=PATIENCE, isolation_level=None, check_same_thread=False
        )
        # What is not UTF-8 was put in by hand: keep it readable, so that it can be told.
        made.text_factory = _lenient
        made.execute("PRAGMA foreign_keys = ON")
        made.execute("PRAGMA recursive_triggers = ON")
        if access is not Access.READ:
            # FULL waits for the disk at each commit: what is acknowledged is kept.
            made.execute("PRAGMA synchronous = FULL")
            made.execute("PRAGMA fullfsync = ON")  # macOS: also past the disk's own cache
            _write_ahead(made)
        return made

    return opened


def _is_sealed(file: Path) -> bool:
    """Tell whether nobody can be writing: a medium that may only be read, with no log beside."""
    log = file.with_name(file.name + "-wal")
    return not os.access(file.parent, os.W_OK) and not log.exists()


def _lenient(raw: bytes) -> str:
    return raw.decode("utf-8", "surrogateescape")


def _write_ahead(made: sqlite3.Connection) -> None:
    """Switch to the write-ahead log. SQLite does not wait for others there, so we do."""
    until = time.monotonic() + PATIENCE
    while True:
        try:
            made.execute("PRAGMA journal_mode = WAL").fetchone()
            return
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > until:
                raise
            time.sleep(0.02)


def take_turn(connection: Connection) -> None:
    """Wait until no other writer is at work; the turn ends with the transaction.

    SQLite has taken the turn already, with BEGIN IMMEDIATE.
    """
    if connection.dialect.name != "postgresql":
        return
    _run(connection, f"SET LOCAL lock_timeout = '{PATIENCE}s'")
    # Where a database is set to acknowledge before it has written, our entries wait all the same.
    _run(
        connection,
        "SELECT set_config('synchronous_commit', 'on', true) "
        "WHERE current_setting('synchronous_commit') = 'off'",
    )
    _run(connection, "SELECT pg_advisory_xact_lock(:lock)", lock=LOCK)


def _run(connection: Connection, statement: str, **values: Any) -> None:  # noqa: ANN401
    connection.execute(text(statement), values)
