"""Run the migrations that ship inside the package."""

from __future__ import annotations

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection


def alembic_config(connection: Connection) -> Config:
    """Make Alembic's settings for a connection that holds the record's lock."""
    config = Config()
    config.set_main_option("script_location", "layoutcheck.record:migrations")
    config.attributes["connection"] = connection
    return config


def upgrade(connection: Connection) -> None:
    """Bring the tables up to this version, within the caller's transaction."""
    command.upgrade(alembic_config(connection), "head")
