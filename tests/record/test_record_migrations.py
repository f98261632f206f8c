"""Migrations: from nothing to what the code works with, and never back."""

from __future__ import annotations

from importlib import resources

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from layoutcheck.record import Ledger
from layoutcheck.record.tables import REVISION, VERSION_TABLE, entries, metadata, texts
from layoutcheck.record.upgrade import alembic_config
from tests.record.conftest import raw_engine


def test_from_nothing_to_now_and_the_tables_agree_with_the_code(where: str) -> None:
    Ledger(where).prepare()
    with raw_engine(where).connect() as connection:
        command.check(alembic_config(connection))  # raises where they differ
        context = MigrationContext.configure(
            connection, opts={"version_table": VERSION_TABLE, "compare_type": True}
        )
        assert compare_metadata(context, metadata) == []
        assert context.get_current_revision() == REVISION
        named = set(sa.inspect(connection).get_table_names())
        assert named == {entries.name, texts.name, VERSION_TABLE}


def test_one_line_of_migrations_ends_where_the_code_is() -> None:
    with sa.create_engine("sqlite://").connect() as connection:
        scripts = ScriptDirectory.from_config(alembic_config(connection))
        assert scripts.get_heads() == [REVISION]
        assert len(scripts.get_bases()) == 1


def test_a_record_is_never_taken_apart(where: str) -> None:
    Ledger(where).prepare()
    with (
        raw_engine(where).begin() as connection,
        pytest.raises(NotImplementedError, match="never taken apart"),
    ):
        command.downgrade(alembic_config(connection), "base")
    assert Ledger(where).verify().whole


def test_the_migrations_ship_with_the_package() -> None:
    folder = resources.files("layoutcheck.record") / "migrations"
    assert (folder / "env.py").is_file()
    names = {f.name for f in (folder / "versions").iterdir()}
    assert "v0001_entries_and_texts.py" in names
