"""The triggers that refuse to change what is kept: whether they are there, as they were made.

A trigger of the right name that does nothing would guard nothing, so what each does is compared
with the statements that make a record.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

import sqlalchemy as sa
from sqlalchemy import Connection

from layoutcheck.record.migrations.versions.v0001_entries_and_texts import POSTGRESQL, SQLITE

_ASK = {
    "sqlite": "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'",
    # 'O' and 'A': on for everybody. A condition (tgqual) would let some changes by.
    "postgresql": "SELECT tgname, concat_ws(' ', tgtype, tgqual IS NULL, proname, prosrc) "
    "FROM pg_trigger JOIN pg_proc ON pg_proc.oid = tgfoid "
    "WHERE tgenabled IN ('O', 'A') AND tgrelid IN "
    "('layoutcheck_entries'::regclass, 'layoutcheck_texts'::regclass)",
}
# PostgreSQL's pg_trigger.tgtype: 1 each row, 2 before, 4 insert, 8 delete, 16 update, 32 truncate.
_BEFORE_CHANGE, _BEFORE_EACH_INSERT = 2 | 8 | 16 | 32, 1 | 2 | 4
_NAME = re.compile(r"CREATE (?:TRIGGER|FUNCTION) (\w+)")


def guard_flaws(connection: Connection) -> Mapping[str, str]:
    """Give each guard that does not stand as it was made: its name, and what became of it."""
    dialect = connection.dialect.name
    rows = connection.execute(sa.text(_ASK[dialect])).all()
    there = {str(name): _plain(str(text)) for name, text in rows}
    made = _of_sqlite() if dialect == "sqlite" else _of_postgresql()
    flaws = {name: "was taken away" for name in made if name not in there}
    flaws |= {name: "was changed" for name in made if name in there and there[name] != made[name]}
    return dict(sorted(flaws.items()))


def _of_sqlite() -> dict[str, str]:
    return {_named(statement): _plain(statement) for statement in SQLITE}


def _of_postgresql() -> dict[str, str]:
    bodies = {_named(s): s.split("$$")[1] for s in POSTGRESQL if "$$" in s}
    kinds = {"layoutcheck_refuse": _BEFORE_CHANGE, "layoutcheck_at_the_end": _BEFORE_EACH_INSERT}
    found = {}
    for statement in POSTGRESQL:
        if "$$" not in statement:
            function = statement.rsplit("EXECUTE FUNCTION ", 1)[1].removesuffix("()")
            told = f"{kinds[function]} t {function} {bodies[function]}"
            found[_named(statement)] = _plain(told)
    return found


def _named(statement: str) -> str:
    found = _NAME.search(statement)
    assert found is not None, statement
    return found[1]


def _plain(text: str) -> str:
    """Take a statement without its lines and indents, which databases keep or do not."""
    return " ".join(text.split())
