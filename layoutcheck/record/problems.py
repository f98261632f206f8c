"""What can go wrong with a record, told without anything secret.

A database's own messages may hold parts of its URL, and so a password. They are never passed on.
"""

from __future__ import annotations


class RecordProblem(Exception):
    """Raised where a record can not be used as asked. The message is plain and holds no secret.

    The message may name the file or the database. public does not: it is for strangers.
    """

    public = "The record can not be used."


class NoRecord(RecordProblem):
    """Raised where no record has been begun."""

    public = "No record has been begun."


class UnsoundPlace(RecordProblem):
    """Raised where the place of a record is none: a wrong URL, a folder, another's database."""

    public = "The record's place is not set rightly."


class RecordBusy(RecordProblem):
    """Raised where others held the record for too long. Nothing was recorded; try again."""

    public = "Others hold the record. Nothing was recorded; try again."


class RecordUnreachable(RecordProblem):
    """Raised where the database does not answer or does not let us in."""

    public = "The record's database does not answer or does not let the service in."


class RecordDamaged(RecordProblem):
    """Raised where the database can not read what it keeps."""

    public = "The record is damaged or was changed. Verify it; nothing more is recorded."


class RecordOutdated(RecordProblem):
    """Raised where the tables are of another version of layoutcheck."""

    public = "The record's tables are of another version of layoutcheck."


class RecordUnsure(RecordProblem):
    """Raised where the database broke off as an entry was being kept: it may be there or not."""

    public = (
        "The database broke off as the entry was being kept: it may be "
        "there or not. List the entries before you try again."
    )
