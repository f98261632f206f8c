"""The record in both databases: what is added is read back, and whatever is changed is found."""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError

from layoutcheck.document import LayoutFaults
from layoutcheck.record import Kept, Ledger
from layoutcheck.record.chain import FaultKind
from layoutcheck.record.entry import BEGINNING, canonical, digest_of, for_paper, hash_of
from layoutcheck.record.exported import ExportedRecord, export_lines
from layoutcheck.record.model import Verification, detail_of, page_of
from layoutcheck.record.problems import (
    NoRecord,
    RecordDamaged,
    RecordOutdated,
    RecordUnreachable,
    UnsoundPlace,
)
from layoutcheck.record.tables import REVISION, VERSION_TABLE, entries
from layoutcheck.record.text import entry_text, list_text, verified_text
from tests.record.conftest import Five, behind_its_back, raw_engine
from tests.record.writer import draft

Found = list[tuple[FaultKind, int | None]]


def filled(where: str, many: int = 5) -> list[Kept]:
    ledger = Ledger(where)
    return [ledger.append(draft("Ann Invented", number, 40)) for number in range(many)]


def faults(where: str, *noted: str) -> Found:
    return [(f.kind, f.sequence) for f in Ledger(where).verify(noted).faults]


# --- adding and reading -------------------------------------------------------------------------


def test_what_is_added_is_read_back_in_order(where: str) -> None:
    kept = filled(where, 7)
    ledger = Ledger(where)
    assert ledger.count() == 7
    assert ledger.page(limit=3) + ledger.page(after=3, limit=100) == kept
    assert ledger.newest(limit=2) == [kept[6], kept[5]]
    assert ledger.newest(before=3) == [kept[1], kept[0]]
    assert list(ledger.walk()) == kept
    assert ledger.get(4) == kept[3]
    assert ledger.get(8) is None
    assert ledger.text(kept[2].entry.layout) == draft("Ann Invented", 2, 40).layout
    assert ledger.text("0" * 64) is None


def test_each_entry_bears_the_hash_before_it(where: str) -> None:
    kept = filled(where)
    assert [k.entry.sequence for k in kept] == [1, 2, 3, 4, 5]
    assert [k.entry.previous for k in kept] == [BEGINNING, *(k.hash for k in kept[:-1])]
    assert all(digest_of(canonical(k.entry)) == k.hash for k in kept)
    found = Ledger(where).verify([kept[4].hash, for_paper(kept[1].hash).replace(" ", "")])
    assert (found.whole, found.entries, found.head) == (True, 5, kept[4].hash)


def test_the_same_text_is_kept_once(where: str) -> None:
    filled(where, 3)
    with raw_engine(where).connect() as connection:
        many = connection.scalar(sa.text("SELECT count(*) FROM layoutcheck_texts"))
    assert many == 3 * 2 + 1  # three layouts, three reports, one pack


def test_the_time_is_kept_in_utc(where: str) -> None:
    noon = datetime(2026, 11, 25, 12, 0, 0, 5, tzinfo=timezone(timedelta(hours=-5)))
    kept = Ledger(where, clock=lambda: noon).append(draft("Ann Invented", 0, 10))
    assert kept.entry.at == "2026-11-25T17:00:00.000005+00:00"


def test_texts_of_any_script_and_size_come_back_to_the_byte(where: str) -> None:
    given = draft("Ann Ö. 山田 😀", 0, 3_000_000)
    kept = Ledger(where).append(given)
    assert Ledger(where).get(1) == kept
    assert Ledger(where).text(kept.entry.report) == given.report
    assert Ledger(where).verify().whole


def test_nothing_is_read_where_no_record_was_begun(where: str) -> None:
    with pytest.raises(NoRecord):
        Ledger(where).count()
    with pytest.raises(NoRecord):
        Ledger(where).verify()
    Ledger(where).prepare()
    Ledger(where).prepare()
    assert Ledger(where).verify().entries == 0


# --- the guards ---------------------------------------------------------------------------------

REFUSED = [
    "UPDATE layoutcheck_entries SET name = 'Eve' WHERE sequence = 2",
    "DELETE FROM layoutcheck_entries WHERE sequence = 5",
    "UPDATE layoutcheck_texts SET digest = digest",
    "DELETE FROM layoutcheck_texts",
    "INSERT INTO layoutcheck_entries SELECT 9, at, name, role, note, key, site, verdict, version, "
    "judged_on, layout_format, layout, pack, report, 'x', 'y' FROM layoutcheck_entries "
    "WHERE sequence = 2",
]


@pytest.mark.parametrize("statement", REFUSED)
def test_the_database_itself_refuses_changes(five: Five, statement: str) -> None:
    with pytest.raises(DBAPIError, match=r"never changed|at the end"):
        _execute(five.where, statement)
    assert list(Ledger(five.where).walk()) == five.kept


def test_sqlite_refuses_to_replace(tmp_path: Path) -> None:
    where = str(tmp_path / "record.sqlite")
    kept = filled(where)
    for table, key in (("entries", "sequence = 2"), ("texts", "1")):
        with pytest.raises(DBAPIError, match=r"never changed|at the end"):
            _execute(
                where,
                f"INSERT OR REPLACE INTO layoutcheck_{table} "
                f"SELECT * FROM layoutcheck_{table} WHERE {key}",
            )
    assert list(Ledger(where).walk()) == kept


def test_the_database_refuses_to_empty_a_table(five: Five) -> None:
    # SQLite has no such word: a DELETE without a condition is its way.
    statement = "TRUNCATE" if "://" in five.where else "DELETE FROM"
    with pytest.raises(DBAPIError, match="never changed"):
        _execute(five.where, f"{statement} layoutcheck_entries")


def _execute(where: str, statement: str) -> None:
    with raw_engine(where).begin() as connection:
        connection.execute(sa.text(statement))


# --- what was changed is found, and where -------------------------------------------------------

COLUMNS = [c.name for c in entries.columns if c.name not in ("sequence", "previous", "hash")]


def test_a_change_of_any_field_is_found(five: Five) -> None:
    where = five.where
    found: dict[str, Found] = {}
    for column in COLUMNS:
        other = "(SELECT digest FROM layoutcheck_texts ORDER BY digest {} LIMIT 1)"
        value = f"coalesce({column}, '') || ' '"
        if column in ("layout", "pack", "report"):
            most = f"CASE WHEN {column} = {other.format('')} THEN {other.format('DESC')} "
            value = f"{most} ELSE {other.format('')} END"
        with behind_its_back(where) as connection:
            was = connection.scalar(
                sa.text(f"SELECT {column} FROM layoutcheck_entries WHERE sequence = 3")
            )
            connection.execute(
                sa.text(f"UPDATE layoutcheck_entries SET {column} = {value} WHERE sequence = 3")
            )
        found[column] = [f for f in faults(where) if f[1] is not None]
        with behind_its_back(where) as connection:
            connection.execute(
                sa.text(f"UPDATE layoutcheck_entries SET {column} = :was WHERE sequence = 3"),
                {"was": was},
            )
    assert set(found) == set(COLUMNS)
    assert found == {column: [(FaultKind.CHANGED, 3)] for column in COLUMNS}
    assert Ledger(where).verify().whole  # all was put back


Tampering = tuple[list[str], Found]

TAMPERINGS: dict[str, Tampering] = {
    "hash": (
        ["UPDATE layoutcheck_entries SET hash = substr(hash, 1, 63) || 'x' WHERE sequence = 3"],
        [(FaultKind.CHANGED, 3)],
    ),
    "previous": (
        ["UPDATE layoutcheck_entries SET previous = 'x' WHERE sequence = 3"],
        [(FaultKind.CHANGED, 3)],
    ),
    "taken out": (
        ["DELETE FROM layoutcheck_entries WHERE sequence = 3"],
        [(FaultKind.REMOVED, 3), (FaultKind.LEFT_OVER, None), (FaultKind.LEFT_OVER, None)],
    ),
    "the first taken out": (
        ["DELETE FROM layoutcheck_entries WHERE sequence = 1"],
        [(FaultKind.REMOVED, 1), (FaultKind.LEFT_OVER, None), (FaultKind.LEFT_OVER, None)],
    ),
    "taken out and closed up": (
        [
            "DELETE FROM layoutcheck_entries WHERE sequence = 3",
            "UPDATE layoutcheck_entries SET sequence = 3 WHERE sequence = 4",
            "UPDATE layoutcheck_entries SET sequence = 4 WHERE sequence = 5",
        ],
        [
            (FaultKind.MOVED, 3),
            (FaultKind.MOVED, 4),
            (FaultKind.LEFT_OVER, None),
            (FaultKind.LEFT_OVER, None),
        ],
    ),
    "exchanged": (
        [
            "UPDATE layoutcheck_entries SET sequence = 99 WHERE sequence = 3",
            "UPDATE layoutcheck_entries SET sequence = 3 WHERE sequence = 4",
            "UPDATE layoutcheck_entries SET sequence = 4 WHERE sequence = 99",
        ],
        [(FaultKind.MOVED, 3), (FaultKind.MOVED, 4)],
    ),
    "put in": (
        [
            "INSERT INTO layoutcheck_entries SELECT 6, at, 'Eve', role, note, key, site, verdict, "
            "version, judged_on, layout_format, layout, pack, report, 'x', 'y' "
            "FROM layoutcheck_entries WHERE sequence = 2"
        ],
        [(FaultKind.CHANGED, 6)],
    ),
    "a text": (
        [
            "UPDATE layoutcheck_texts SET body = (SELECT body FROM layoutcheck_texts WHERE digest "
            "= (SELECT pack FROM layoutcheck_entries WHERE sequence = 1)) WHERE digest = "
            "(SELECT report FROM layoutcheck_entries WHERE sequence = 4)"
        ],
        [(FaultKind.CHANGED, 4)],
    ),
    "a text taken out": (
        [
            "DELETE FROM layoutcheck_texts WHERE digest = "
            "(SELECT layout FROM layoutcheck_entries WHERE sequence = 2)"
        ],
        [(FaultKind.CHANGED, 2)],
    ),
    "the pack of all": (
        [
            "DELETE FROM layoutcheck_texts WHERE digest = "
            "(SELECT pack FROM layoutcheck_entries WHERE sequence = 2)"
        ],
        [(FaultKind.CHANGED, n) for n in (1, 2, 3, 4, 5)],
    ),
}


@pytest.mark.parametrize("name", TAMPERINGS)
def test_tampering_is_found_and_told_where(five: Five, name: str) -> None:
    statements, expected = TAMPERINGS[name]
    where = five.where
    with behind_its_back(where) as connection:
        for statement in statements:
            connection.execute(sa.text(statement))
    assert faults(where) == expected


@pytest.mark.parametrize("value", ["CAST(x'ff00' AS TEXT)", "x'ff'", "1.5", "7"])
@pytest.mark.parametrize("column", ["note", "hash", "layout"])
def test_values_of_any_kind_put_into_sqlite_are_found_and_can_be_shown(
    tmp_path: Path, column: str, value: str
) -> None:
    """SQLite takes any value in any column: half characters, bytes, numbers."""
    where = str(tmp_path / "record.sqlite")
    filled(where, 2)
    with behind_its_back(where) as connection:
        connection.exec_driver_sql(
            f"UPDATE layoutcheck_entries SET {column} = {value} WHERE sequence = 1"
        )
    assert (FaultKind.CHANGED, 1) in faults(where)
    ledger = Ledger(where)
    kept = list(ledger.walk())
    assert "CHANGED" in verified_text(Verification.of(ledger.verify()))
    assert list_text(kept, total=2)
    assert entry_text(kept[0], None)
    assert page_of(kept[::-1]).model_dump_json()
    assert detail_of(kept[0], ledger.text).model_dump_json()
    written = b"".join(export_lines(ledger))
    try:
        assert not ExportedRecord(written).verify().whole
    except LayoutFaults:
        assert column != "note"


def test_an_entry_exchanged_with_a_new_hash_breaks_the_next(five: Five) -> None:
    where, kept = five.where, five.kept
    forged = kept[2].entry.__class__(**{**kept[2].entry.__dict__, "name": "Eve"})
    with behind_its_back(where) as connection:
        connection.execute(
            sa.update(entries)
            .where(entries.c.sequence == 3)
            .values(name="Eve", hash=hash_of(forged))
        )
    assert faults(where) == [(FaultKind.UNLINKED, 4)]


# --- what a chain can not show, but a noted hash does -------------------------------------------


def test_a_cut_tail_shows_only_by_a_noted_hash(five: Five) -> None:
    where, kept = five.where, five.kept
    with behind_its_back(where) as connection:
        connection.execute(sa.text("DELETE FROM layoutcheck_entries WHERE sequence >= 4"))
        orphans = "SELECT layout FROM layoutcheck_entries UNION SELECT pack FROM "
        orphans += "layoutcheck_entries UNION SELECT report FROM layoutcheck_entries"
        connection.execute(
            sa.text(f"DELETE FROM layoutcheck_texts WHERE digest NOT IN ({orphans})")
        )
    assert faults(where) == []
    assert faults(where, kept[2].hash) == []
    assert faults(where, kept[4].hash) == [(FaultKind.NOTED_HASH_MISSING, None)]
    assert faults(where, kept[4].hash[:40]) == [(FaultKind.NOTED_HASH_MISSING, None)]


def test_a_chain_written_anew_shows_only_by_a_noted_hash(five: Five) -> None:
    where, kept = five.where, five.kept
    with behind_its_back(where) as connection:
        connection.execute(sa.text("DELETE FROM layoutcheck_entries"))
        connection.execute(sa.text("DELETE FROM layoutcheck_texts"))
    forger = Ledger(where)
    for number in range(5):
        forger.append(draft("Eve Invented", number, 40))
    assert faults(where) == []
    assert faults(where, *(k.hash for k in kept)) == [(FaultKind.NOTED_HASH_MISSING, None)] * 5


def test_guards_that_are_gone_are_told(where: str) -> None:
    filled(where, 1)
    on = "" if "://" not in where else " ON layoutcheck_entries"
    _execute(where, f"DROP TRIGGER layoutcheck_entries_at_the_end{on}")
    assert faults(where) == [(FaultKind.UNGUARDED, None)]


def test_a_guard_of_the_right_name_that_does_nothing_is_told(where: str) -> None:
    filled(where, 1)
    if "://" in where:
        does_nothing = "CREATE OR REPLACE FUNCTION layoutcheck_refuse() RETURNS trigger LANGUAGE "
        _execute(where, does_nothing + "plpgsql AS $$ BEGIN RETURN NULL; END $$")
    else:
        _execute(where, "DROP TRIGGER layoutcheck_entries_no_update")
        made = "CREATE TRIGGER layoutcheck_entries_no_update BEFORE UPDATE ON layoutcheck_entries "
        _execute(where, made + "WHEN 1 = 0 BEGIN SELECT RAISE(ABORT, 'never'); END")
    (told,) = Ledger(where).verify(()).faults
    assert told.kind is FaultKind.UNGUARDED
    assert "was changed" in told.says


def test_two_texts_for_one_digest_are_refused(where: str) -> None:
    """The true text last would let the false one, which a reader meets first, pass unseen."""
    filled(where, 1)
    lines = list(export_lines(Ledger(where)))
    true = json.loads(lines[0])
    false = {**true, "text": true["text"].replace("Invented", "Forged") + " "}
    forged = [json.dumps(false).encode() + b"\n", *lines]
    with pytest.raises(LayoutFaults) as raised:
        ExportedRecord(b"".join(forged))
    assert [f.pointer for f in raised.value.faults] == ["/2"]


def test_nothing_is_hung_on_an_entry_that_was_changed(five: Five) -> None:
    where = five.where
    with behind_its_back(where) as connection:
        connection.execute(
            sa.text("UPDATE layoutcheck_entries SET name = 'Eve' WHERE sequence = 5")
        )
    with pytest.raises(RecordDamaged, match="verify"):
        Ledger(where).append(draft("Ann Invented", 3, 10))
    assert Ledger(where).count() == 5


# --- records that are not ours to use -----------------------------------------------------------


@pytest.mark.parametrize(("revision", "says"), [("0000", "older"), ("9999", "newer")])
def test_tables_of_another_version_are_left_alone(five: Five, revision: str, says: str) -> None:
    where = five.where
    _execute(where, f"UPDATE {VERSION_TABLE} SET version_num = '{revision}'")
    with pytest.raises(RecordOutdated, match=says):
        Ledger(where).append(draft("Ann Invented", 1, 10))
    with pytest.raises(RecordOutdated, match=says):
        Ledger(where).count()
    _execute(where, f"UPDATE {VERSION_TABLE} SET version_num = '{REVISION}'")
    assert Ledger(where).count() == 5


def test_another_programs_file_is_left_alone(tmp_path: Path) -> None:
    file = tmp_path / "other.sqlite"
    with sqlite3.connect(file) as other:
        other.execute("CREATE TABLE theirs (x)")
    before = file.read_bytes()
    with pytest.raises(UnsoundPlace, match="another program"):
        Ledger(str(file)).append(draft("Ann Invented", 0, 10))
    other.close()
    assert before[100:] == file.read_bytes()[100 : len(before)]


def test_a_file_that_is_no_database_is_left_alone(tmp_path: Path) -> None:
    file = tmp_path / "notes.txt"
    file.write_bytes(b"Shopping: bread, milk. " * 100)
    for use in (Ledger(str(file)).count, Ledger(str(file)).prepare):
        with pytest.raises(UnsoundPlace, match="not a SQLite file"):
            use()
    assert file.read_bytes() == b"Shopping: bread, milk. " * 100
    with pytest.raises(UnsoundPlace, match="folder"):
        Ledger(str(tmp_path)).count()


@pytest.fixture
def sealed(tmp_path: Path) -> Iterator[Path]:
    """A record on a medium that may only be read."""
    folder = tmp_path / "sealed"
    folder.mkdir()
    filled(str(folder / "record.sqlite"), 3)
    for beside in folder.glob("*-*"):
        beside.unlink()
    (folder / "record.sqlite").chmod(0o444)
    folder.chmod(0o555)
    yield folder / "record.sqlite"
    folder.chmod(0o755)


def test_a_record_is_read_where_nothing_may_be_written(
    sealed: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    if os.getuid() == 0:  # root may write everywhere, so it is told that it may not
        monkeypatch.setattr(os, "access", lambda *_: False)
    assert Ledger(str(sealed)).verify().whole
    assert [p.name for p in sealed.parent.iterdir()] == ["record.sqlite"]


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(RecordUnreachable, match="can not be opened"):
        Ledger(str(tmp_path / "nowhere" / "record.sqlite")).append(draft("Ann Invented", 0, 10))


def test_a_clock_set_back_is_remarked_on(where: str, tmp_path: Path) -> None:
    """Somebody who gives an entry an earlier day stands out by its place in the chain."""
    noon = datetime(2026, 11, 25, 12, tzinfo=UTC)
    for number, minutes in enumerate([0, 5, 4.5, -1440, 6]):  # 30 s back is how clocks differ
        at = noon + timedelta(minutes=minutes)
        Ledger(where, clock=lambda at=at: at).append(  # type: ignore[misc]
            draft("Ann Invented", number, 10)
        )
    found = Ledger(where).verify()
    assert found.whole
    assert len(found.remarks) == 1
    assert found.remarks[0].startswith("Entry 4 bears an earlier time")
    exported = ExportedRecord(b"".join(export_lines(Ledger(where))))
    assert exported.verify() == found
    assert "REMARK: Entry 4" in verified_text(Verification.of(found))


def test_time_goes_by_the_machines_clock() -> None:
    before = datetime.now(UTC)
    stamp = datetime.fromisoformat(Ledger("x")._stamp())
    assert before <= stamp <= datetime.now(UTC)
