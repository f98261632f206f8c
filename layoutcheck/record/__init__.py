"""The record of sign-off: what was agreed, by whom and when, in a chain that shows changes.

- **What is hashed.** `record/entry.py`: SHA-256 over the entry as canonical JSON by RFC 8785
  (package `rfc8785`), with the hash of the entry before as one of its fields; the first has 64
  zeros there. Layout, pack and report are in it by the SHA-256 of the bytes kept: every byte
  counts, the same text is kept once, and an entry can be shown to somebody who must not see the
  layout. A layout from the command line is kept as the file was; one from the service, which
  comes inside other JSON, as RFC 8785 writes it. All other fields are texts and one number, so
  anyone can make the hash again with any JSON library. One test pins the hash of a known entry:
  change the form, and every record there is breaks.
- **Where it is kept.** One code for both databases: SQLAlchemy Core, `record/tables.py`.
  Migrations (Alembic) ship in `record/migrations` and are never edited once released; a record is
  begun by its first entry and brought up to date only by `layoutcheck record prepare`. A
  downgrade is refused.
- **No fork.** Writers take turns: `BEGIN IMMEDIATE` in SQLite, a transaction's advisory lock in
  PostgreSQL. A unique constraint on `previous` holds off whoever does not take turns; that writer
  tries again.
- **Nothing acknowledged is lost.** SQLite: write-ahead log with `synchronous=FULL`. PostgreSQL:
  `synchronous_commit` is switched on for the transaction where it is off. Only after the commit
  is anything told. If the database breaks off in the commit, the message says that the entry may
  be there.
- **Guards.** Triggers refuse UPDATE, DELETE, TRUNCATE, INSERT OR REPLACE, and any INSERT but at
  the end. Whoever owns the database can take them away; `verify` tells that they are gone. In
  PostgreSQL let the service's user have SELECT and INSERT alone.
- **What `verify` can not show.** A tail cut off, or everything from some entry on written anew
  with new hashes. Only a hash noted elsewhere does: `--head`. On paper it has 40 digits (160
  bits): nobody finds another entry that fits it afterwards, but whoever prepares two versions
  before signing has only about 2^80 tries to make. Against that keep the whole hash. The time is
  the recording machine's clock, and the signer is as stated (with the API key's owner, if there
  is one).
- **Secrets.** A database's own messages may repeat a part of its URL, so none is ever passed on
  (`record/problems.py`), and what can not be read as a URL is not repeated. `public` is what
  strangers are told.
- **In the service** the check and the entry are made in a worker. When no answer comes, the entry
  may be there all the same: list before trying again.
- **Backups.** `pg_dump`, or SQLite's own backup (`sqlite3 record.sqlite ".backup copy.sqlite"`):
  a plain copy of a file in use misses what stands in its `-wal`. `layoutcheck record export` is
  for handing on. A record is not read from one, but verified.
"""

from layoutcheck.record.entry import Draft, Entry, Kept, Signer, for_paper
from layoutcheck.record.ledger import Ledger, Verified

__all__ = ["Draft", "Entry", "Kept", "Ledger", "Signer", "Verified", "for_paper"]
