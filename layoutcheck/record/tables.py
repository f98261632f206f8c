"""The tables, the same in SQLite and PostgreSQL. Made by the migrations, described here."""

from __future__ import annotations

from sqlalchemy import (
    CheckConstraint,
    Column,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

# The migration that this version works with. A test holds it to the newest there is.
REVISION = "0001"
VERSION_TABLE = "layoutcheck_record_version"

metadata = MetaData()

texts = Table(
    "layoutcheck_texts",
    metadata,
    Column("digest", String(64), primary_key=True),
    Column("body", LargeBinary, nullable=False),
)


def _text_digest(name: str) -> Column[str]:
    return Column(name, String(64), ForeignKey(texts.c.digest), nullable=False)


entries = Table(
    "layoutcheck_entries",
    metadata,
    Column("sequence", Integer, primary_key=True, autoincrement=False),
    Column("at", String(40), nullable=False),
    Column("name", Text, nullable=False),
    Column("role", Text, nullable=False),
    Column("note", Text, nullable=False),
    Column("key", Text),
    Column("site", Text, nullable=False),
    Column("verdict", String(40), nullable=False),
    Column("version", String(80), nullable=False),
    Column("judged_on", String(10)),
    Column("layout_format", String(10), nullable=False),
    _text_digest("layout"),
    _text_digest("pack"),
    _text_digest("report"),
    Column("previous", String(64), nullable=False),
    Column("hash", String(64), nullable=False),
    # Two entries that follow the same one would be a fork.
    UniqueConstraint("previous", name="layoutcheck_entries_no_fork"),
    UniqueConstraint("hash", name="layoutcheck_entries_one_hash"),
    CheckConstraint("sequence >= 1", name="layoutcheck_entries_from_one"),
)
