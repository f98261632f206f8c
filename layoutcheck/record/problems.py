"""What can go wrong with a record, told without anything secret.

A database's own messages may hold parts of its URL, and so a password. They are never passed on.
"""

from __future__ import annotations


class RecordProblem(Exception):
    """Raised where a record can not be used as asked. The message is plain and holds no secret."""


class NoRecord(RecordProblem):
    """Raised where no record has been begun."""


class UnsoundPlace(RecordProblem):
    """Raised where the place of a record is none: a wrong URL, a folder, another's database."""


class RecordBusy(RecordProblem):
    """Raised where others held the record for too long. Nothing was recorded; try again."""


class RecordUnreachable(RecordProblem):
    """Raised where the database does not answer or does not let us in."""


class RecordDamaged(RecordProblem):
    """Raised where the database can not read what it keeps."""


class RecordOutdated(RecordProblem):
    """Raised where the tables are of another version of layoutcheck."""


class RecordUnsure(RecordProblem):
    """Raised where the database broke off as an entry was being kept: it may be there or not."""
