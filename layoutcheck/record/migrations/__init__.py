"""Migrations of the record's tables, run by Alembic from inside the package."""
