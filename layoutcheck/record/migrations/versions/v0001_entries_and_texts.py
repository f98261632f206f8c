"""The first tables: entries in a chain, the texts they keep, and triggers that guard both."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision: str | None = None
branch_labels: str | None = None
depends_on: str | None = None

_CHANGED = "a record is never changed"
_NOT_AT_THE_END = "an entry goes at the end of the chain"

SQLITE = (
    *(
        f"CREATE TRIGGER {table}_no_{verb} BEFORE {verb.upper()} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{_CHANGED}'); END"
        for table in ("layoutcheck_entries", "layoutcheck_texts")
        for verb in ("update", "delete")
    ),
    # Without these two, INSERT OR REPLACE would change what is kept.
    f"""
    CREATE TRIGGER layoutcheck_entries_at_the_end BEFORE INSERT ON layoutcheck_entries
    WHEN NEW.sequence <> (SELECT coalesce(max(sequence), 0) + 1 FROM layoutcheck_entries)
      OR NEW.previous <> coalesce(
           (SELECT hash FROM layoutcheck_entries ORDER BY sequence DESC LIMIT 1), '{"0" * 64}')
    BEGIN SELECT RAISE(ABORT, '{_NOT_AT_THE_END}'); END
    """,
    f"""
    CREATE TRIGGER layoutcheck_texts_once BEFORE INSERT ON layoutcheck_texts
    WHEN EXISTS (SELECT 1 FROM layoutcheck_texts WHERE digest = NEW.digest)
    BEGIN SELECT RAISE(ABORT, '{_CHANGED}'); END
    """,
)

POSTGRESQL = (
    f"""
    CREATE FUNCTION layoutcheck_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
      RAISE EXCEPTION '{_CHANGED}';
    END $$
    """,
    *(
        f"CREATE TRIGGER {table}_kept BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION layoutcheck_refuse()"
        for table in ("layoutcheck_entries", "layoutcheck_texts")
    ),
    # The search path is fixed, so that the function reads this record and no other.
    f"""
    CREATE FUNCTION layoutcheck_at_the_end() RETURNS trigger LANGUAGE plpgsql
    SET search_path FROM CURRENT AS $$
    DECLARE
      last record;
    BEGIN
      SELECT sequence, hash INTO last FROM layoutcheck_entries ORDER BY sequence DESC LIMIT 1;
      IF NEW.sequence <> coalesce(last.sequence, 0) + 1
         OR NEW.previous <> coalesce(last.hash, '{"0" * 64}') THEN
        RAISE EXCEPTION '{_NOT_AT_THE_END}' USING ERRCODE = 'integrity_constraint_violation';
      END IF;
      RETURN NEW;
    END $$
    """,
    "CREATE TRIGGER layoutcheck_entries_at_the_end BEFORE INSERT ON layoutcheck_entries "
    "FOR EACH ROW EXECUTE FUNCTION layoutcheck_at_the_end()",
)


def upgrade() -> None:
    """Make the tables and their guards."""
    _make_tables()
    guards = {"sqlite": SQLITE, "postgresql": POSTGRESQL}[op.get_bind().dialect.name]
    for statement in guards:
        op.execute(sa.text(statement))


def downgrade() -> None:
    """Refuse: a record is never taken apart."""
    raise NotImplementedError("a record is never taken apart")


def _make_tables() -> None:
    op.create_table(
        "layoutcheck_texts",
        sa.Column("digest", sa.String(64), primary_key=True),
        sa.Column("body", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "layoutcheck_entries",
        sa.Column("sequence", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("at", sa.String(40), nullable=False),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("name", "role", "note")),
        sa.Column("key", sa.Text),
        sa.Column("site", sa.Text, nullable=False),
        sa.Column("verdict", sa.String(40), nullable=False),
        sa.Column("version", sa.String(80), nullable=False),
        sa.Column("judged_on", sa.String(10)),
        sa.Column("layout_format", sa.String(10), nullable=False),
        *(
            sa.Column(
                name, sa.String(64), sa.ForeignKey("layoutcheck_texts.digest"), nullable=False
            )
            for name in ("layout", "pack", "report")
        ),
        sa.Column("previous", sa.String(64), nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.UniqueConstraint("previous", name="layoutcheck_entries_no_fork"),
        sa.UniqueConstraint("hash", name="layoutcheck_entries_one_hash"),
        sa.CheckConstraint("sequence >= 1", name="layoutcheck_entries_from_one"),
    )
