"""The record in its database: add entries one after another, read them, verify the chain."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, fields
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError, IntegrityError, SQLAlchemyError

from layoutcheck.record.chain import (
    MOST_FAULTS,
    ChainFault,
    Clock,
    FaultKind,
    TextState,
    chain_faults,
    noted_faults,
)
from layoutcheck.record.entry import Draft, Entry, Kept, digest_of, hash_of, next_entry
from layoutcheck.record.guards import guard_flaws
from layoutcheck.record.place import Access, Place, engine_for, place_of, take_turn
from layoutcheck.record.problems import (
    NoRecord,
    RecordBusy,
    RecordDamaged,
    RecordOutdated,
    RecordProblem,
    RecordUnreachable,
    RecordUnsure,
    UnsoundPlace,
)
from layoutcheck.record.tables import REVISION, VERSION_TABLE, entries, texts

_TRIES = 5
_UNSURE = (
    "the database broke off as the entry was being kept: it may be there or not. List the record "
    "before you try again."
)
_ENTRY_FIELDS = tuple(f.name for f in fields(Entry))


@dataclass(frozen=True)
class Verified:
    """What a walk over the whole record found.

    entries: how many there are. head: the hash of the last, None where there is none.
    more: True where there are more faults than are listed. remarks: what is no fault of the chain
    but should be known.
    """

    entries: int
    head: str | None
    faults: tuple[ChainFault, ...]
    more: bool
    remarks: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        """Tell whether nothing is wrong."""
        return not self.faults


def nothing_yet(noted: Sequence[str] = ()) -> Verified:
    """Give what a walk finds where no record has been begun."""
    faults = tuple(noted_faults(noted, ()))
    return Verified(0, None, faults[:MOST_FAULTS], more=len(faults) > MOST_FAULTS)


def _now() -> datetime:
    return datetime.now(UTC)


class Ledger:
    """A record at a place. It holds no connection, so any thread or process may have its own."""

    def __init__(self, where: str, *, clock: Callable[[], datetime] = _now) -> None:
        """Keep the place: a file, or a URL (see `place_of`). Nothing is opened yet."""
        self._place = place_of(where)
        self._clock = clock

    @property
    def place(self) -> Place:
        """Give the place of the record."""
        return self._place

    def prepare(self) -> None:
        """Begin the record where there is none; bring its tables up to this version.

        Raises RecordProblem.
        """
        with self._connected(Access.BEGIN) as connection, connection.begin():
            take_turn(connection)
            found = _revision(connection)
            if found == REVISION:
                return
            if found is None and connection.dialect.name == "sqlite":
                _refuse_another_program(connection, self._place)
            # Late: Alembic is needed here alone.
            from layoutcheck.record.upgrade import upgrade  # noqa: PLC0415

            upgrade(connection)

    def missing(self) -> str | None:
        """Say in a few words why nothing can be recorded just now; None if nothing is known."""
        try:
            self.newest(limit=1)
        except NoRecord:
            return None
        except RecordProblem:
            return "the record of sign-off"
        return None

    def append(self, draft: Draft) -> Kept:
        """Add an entry at the end. When this returns, the entry is on disk.

        Begins the record where there is none. Raises RecordProblem.
        """
        for _ in range(_TRIES):
            try:
                return self._append(draft)
            except NoRecord:
                self.prepare()
            except _LostTurn:
                continue
        raise RecordBusy("others keep adding to the record: nothing was recorded; try again.")

    def _append(self, draft: Draft) -> Kept:
        kept: Kept | None = None
        asked = done = False
        try:
            with self._connected(Access.WRITE) as connection, connection.begin() as transaction:
                take_turn(connection)
                _need_tables(connection, self._place)
                kept = next_entry(draft, last=_last_sound(connection), at=self._stamp())
                _keep_texts(connection, draft)
                values = {**asdict(kept.entry), "hash": kept.hash}
                connection.execute(sa.insert(entries).values(values))
                asked = True
                transaction.commit()
                done = True
        except RecordProblem:
            # Once the commit is through, trouble with closing the connection changes nothing.
            if asked and not done:
                raise RecordUnsure(_UNSURE) from None
            if not done:
                raise
        assert kept is not None, "what is committed was made before"
        return kept

    def _stamp(self) -> str:
        return self._clock().astimezone(UTC).isoformat(timespec="microseconds")

    def count(self) -> int:
        """Give how many entries there are. Raises RecordProblem."""
        with self._reading() as connection:
            return int(connection.scalar(sa.select(sa.func.count()).select_from(entries)) or 0)

    def page(self, *, after: int = 0, limit: int = 100) -> list[Kept]:
        """Give entries in order, from the one after `after`. Raises RecordProblem."""
        with self._reading() as connection:
            return list(_walk(connection, entries.c.sequence > after, limit=limit))

    def newest(self, *, before: int | None = None, limit: int = 100) -> list[Kept]:
        """Give entries from the newest back, before number `before`. Raises RecordProblem."""
        wanted = sa.true() if before is None else entries.c.sequence < before
        chosen = sa.select(entries).where(wanted).order_by(entries.c.sequence.desc())
        with self._reading() as connection:
            return [_kept(row) for row in connection.execute(chosen.limit(limit))]

    def walk(self) -> Iterator[Kept]:
        """Give all entries in order, a page at a time. Raises RecordProblem."""
        after = 0
        while page := self.page(after=after):
            yield from page
            after = page[-1].entry.sequence

    def get(self, sequence: int) -> Kept | None:
        """Give one entry; None where there is none of that number. Raises RecordProblem."""
        found = self.page(after=sequence - 1, limit=1)
        return found[0] if found and found[0].entry.sequence == sequence else None

    def text(self, digest: str) -> bytes | None:
        """Give a text that entries keep; None where it is not there. Raises RecordProblem."""
        if not re.fullmatch("[0-9a-f]{64}", str(digest)):
            return None  # put in by hand
        wanted = sa.select(_body()).where(texts.c.digest == digest)
        with self._reading() as connection:
            found = connection.scalar(wanted)
            return None if found is None else bytes(found)

    def verify(self, noted: Sequence[str] = ()) -> Verified:
        """Walk the whole record. noted: hashes noted elsewhere, which must be in it.

        What the database itself can not read is a fault of the record. Raises RecordProblem where
        it can not be opened at all.
        """
        try:
            with self._reading() as connection:
                return _verified(connection, noted)
        except RecordDamaged as damage:
            fault = ChainFault(FaultKind.DAMAGED, None, f"Damaged: {damage}")
            return Verified(0, None, (fault,), more=False)

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with self._connected(Access.READ) as connection, connection.begin():
            _need_tables(connection, self._place)
            yield connection

    @contextmanager
    def _connected(self, access: Access) -> Iterator[Connection]:
        """Open a connection; whatever the database says becomes a plain problem."""
        try:
            engine = engine_for(self._place, access)
            with engine.connect() as connection:
                yield connection
        except SQLAlchemyError as error:
            raise _told(error, self._place) from None
        except UnicodeError:  # SQLite's complaint of a damaged file repeats what stands in it
            raise RecordDamaged(f"{self._place.shown} holds what is no text.") from None


class _LostTurn(RecordProblem):
    """Raised where a writer that does not take turns was faster; nothing was recorded."""


def _told(error: SQLAlchemyError, place: Place) -> RecordProblem:
    """Say what happened, without the database's own words: they may hold a password."""
    if not isinstance(error, DBAPIError):
        return RecordUnreachable(f"{place.shown} can not be used ({type(error).__name__}).")
    if place.file is not None:
        return _sqlite_told(error, place)
    state = str(getattr(error.orig, "sqlstate", None) or "")
    if isinstance(error, IntegrityError) or state in {"40001", "40P01"}:
        return _LostTurn("another writer was faster.")
    if state == "55P03":
        return RecordBusy("others hold the record: nothing was recorded; try again.")
    if state == "42501":
        return RecordUnreachable(f"{place.shown} does not let this user do that.")
    if state.startswith(("XX", "58", "22")):
        return RecordDamaged(f"{place.shown} can not read what it keeps (SQLSTATE {state}).")
    why = f" (SQLSTATE {state})" if state else ""
    return RecordUnreachable(f"{place.shown} does not answer or does not let us in{why}.")


def _sqlite_told(error: DBAPIError, place: Place) -> RecordProblem:
    name = str(getattr(error.orig, "sqlite_errorname", ""))
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return RecordBusy("others hold the record: nothing was recorded; try again.")
    if name.startswith("SQLITE_NOTADB"):
        return UnsoundPlace(f"{place.shown} is not a SQLite file.")
    if name.startswith("SQLITE_CONSTRAINT"):
        return _LostTurn("another writer was faster.")
    if name.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH")):
        return RecordUnreachable(f"{place.shown} can not be opened or may not be written by you.")
    if name.startswith("SQLITE_FULL"):
        return RecordUnreachable("the disk is full: nothing was recorded.")
    return RecordDamaged(f"SQLite can not read {place.shown} ({name or 'unreadable'}).")


def _revision(connection: Connection) -> str | None:
    if not sa.inspect(connection).has_table(VERSION_TABLE):
        return None
    found = connection.scalar(sa.text(f"SELECT version_num FROM {VERSION_TABLE}"))
    return None if found is None else str(found)


def _need_tables(connection: Connection, place: Place) -> None:
    found = _revision(connection)
    if found is None:
        raise NoRecord(f"no record has been begun in {place.shown}.")
    if found < REVISION:
        raise RecordOutdated(
            f"{place.shown} was begun by an older layoutcheck. Keep a copy, then bring it up to "
            "date: layoutcheck record prepare"
        )
    if found > REVISION:
        raise RecordOutdated(f"{place.shown} is kept by a newer layoutcheck than this one.")


def _refuse_another_program(connection: Connection, place: Place) -> None:
    if sa.inspect(connection).get_table_names():
        raise UnsoundPlace(f"{place.shown} is another program's database.")


def _last_sound(connection: Connection) -> Kept | None:
    """Give the last entry. Nothing is hung on one that does not bear out its hash."""
    chosen = sa.select(entries).order_by(entries.c.sequence.desc()).limit(1)
    row = connection.execute(chosen).first()
    if row is None:
        return None
    last = _kept(row)
    try:
        sound = hash_of(last.entry) == last.hash
    except ValueError:
        sound = False
    if not sound:
        raise RecordDamaged(
            "the last entry was changed, so nothing is added to it. See layoutcheck record verify"
        )
    return last


def _keep_texts(connection: Connection, draft: Draft) -> None:
    for body in dict.fromkeys((draft.layout, draft.pack, draft.report)):
        digest = digest_of(body)
        there = sa.select(texts.c.digest).where(texts.c.digest == digest)
        if connection.scalar(there) is None:
            connection.execute(sa.insert(texts).values(digest=digest, body=body))


def _kept(row: sa.Row[Any]) -> Kept:
    found = row._mapping
    return Kept(Entry(**{name: found[name] for name in _ENTRY_FIELDS}), found["hash"])


def _walk(
    connection: Connection, wanted: sa.ColumnElement[bool], *, limit: int | None = None
) -> Iterator[Kept]:
    chosen = sa.select(entries).where(wanted).order_by(entries.c.sequence)
    for row in connection.execute(chosen.limit(limit), execution_options={"yield_per": 500}):
        yield _kept(row)


def _body() -> sa.ColumnElement[bytes]:
    """Ask for a text's bytes, whatever type of value was put there by hand."""
    return sa.cast(texts.c.body, sa.LargeBinary)


def _verified(connection: Connection, noted: Sequence[str]) -> Verified:
    hashes: list[str] = []
    clock = Clock()

    def walked() -> Iterator[Kept]:
        for one in _walk(connection, sa.true()):
            hashes.append(str(one.hash))
            clock.see(one)
            yield one

    found = [*_guard_faults(connection)]
    for fault in chain_faults(walked(), _text_state(connection)):
        found.append(fault)
        if len(found) > MOST_FAULTS:
            break
    else:
        found += noted_faults(noted, hashes)
    head = hashes[-1] if hashes else None
    listed = tuple(found[:MOST_FAULTS])
    return Verified(len(hashes), head, listed, len(found) > MOST_FAULTS, tuple(clock.remarks))


def _text_state(connection: Connection) -> TextState:
    state = TextState()
    chosen = sa.select(texts.c.digest, _body().label("body"))
    for row in connection.execute(chosen, execution_options={"yield_per": 20}):
        body = row.body
        sound = body is not None and digest_of(bytes(body)) == row.digest
        (state.sound if sound else state.changed).add(row.digest)
    return state


def _guard_faults(connection: Connection) -> Iterator[ChainFault]:
    """Look whether the triggers stand as made, and whether SQLite finds its file sound."""
    if connection.dialect.name == "sqlite":
        told = connection.execute(sa.text("PRAGMA integrity_check(1)")).scalar()
        if told != "ok":
            yield ChainFault(FaultKind.DAMAGED, None, "SQLite finds the file damaged.")
    if flaws := guard_flaws(connection):
        told = ", ".join(f"{name} {what}" for name, what in flaws.items())
        says = f"Guards against change do not stand as they were made: {told}."
        yield ChainFault(FaultKind.UNGUARDED, None, says)
