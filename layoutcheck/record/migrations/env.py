"""Alembic's way in. The caller hands over a connection that holds the record's lock."""

from __future__ import annotations

from alembic import context

from layoutcheck.record.tables import VERSION_TABLE, metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    version_table=VERSION_TABLE,
    transactional_ddl=True,
    # In PostgreSQL the record may share a schema with tables that are none of ours.
    include_name=lambda name, kind, _: kind != "table" or name in metadata.tables,
)
with context.begin_transaction():
    context.run_migrations()
