"""The command `layoutcheck keys`: make, list and revoke the API keys of the service."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from layoutcheck_service.keys import KeysFault, Scope, changed_keys, make_key, read_keys

_DONE, _REFUSED = 0, 2
_VARIABLE = "LAYOUTCHECK_KEYS_FILE"


def keys(argv: Sequence[str] | None = None) -> int:
    """Make, list or revoke keys.

    argv: the arguments after `layoutcheck keys`; those of the process if None.
    Returns the exit code: 0 when done, 2 where it can not be done.
    """
    try:
        asked = _parser().parse_args(argv)
    except SystemExit as stop:
        return _DONE if stop.code in (0, None) else _REFUSED
    if asked.file is None:
        print(f"layoutcheck keys: name the file with --file or {_VARIABLE}.", file=sys.stderr)
        return _REFUSED
    try:
        return int(asked.act(asked))
    except KeysFault as fault:
        print(f"layoutcheck keys: {fault}", file=sys.stderr)
        return _REFUSED


def _parser() -> argparse.ArgumentParser:
    given = os.environ.get(_VARIABLE)
    common = argparse.ArgumentParser(add_help=False)
    common.add_argument(
        "--file",
        type=Path,
        default=Path(given) if given else None,
        help=f"the file of keys ({_VARIABLE})",
    )
    parser = argparse.ArgumentParser(
        prog="layoutcheck keys",
        description="Make, list and revoke API keys. The file keeps their digests, never a key. "
        "To change a key without a gap, make a second one, hand it out, then revoke the first.",
    )
    acts = parser.add_subparsers(required=True, metavar="ACT")
    made = acts.add_parser("make", parents=[common], help="make a key and print it, this once")
    made.add_argument("owner", help="whose key it is, for the log")
    made.add_argument(
        "--scope",
        action="append",
        required=True,
        choices=[str(s) for s in Scope],
        help="what it is good for; may be given more than once",
    )
    made.add_argument("--days", type=_days, default=365.0, help="how long it is good (365)")
    made.set_defaults(act=_make)
    listed = acts.add_parser("list", parents=[common], help="list the keys there are")
    listed.set_defaults(act=_list)
    revoked = acts.add_parser("revoke", parents=[common], help="take a key out of the file")
    revoked.add_argument("id", help="its id, which `list` shows: the part after lck_")
    revoked.set_defaults(act=_revoke)
    return parser


def _days(text: str) -> float:
    days = float(text)
    if not 0 < days <= 3660:
        raise argparse.ArgumentTypeError("is a number of days up to 3660")
    return days


def _make(asked: argparse.Namespace) -> int:
    key, entry = make_key(asked.owner, [Scope(s) for s in asked.scope], days=asked.days)
    with changed_keys(asked.file) as entries:
        entries.append(entry)
    print(key)
    print(
        f"Good until {entry.expires:%Y-%m-%d %H:%M} UTC. It is shown this once and kept nowhere.",
        file=sys.stderr,
    )
    return _DONE


def _list(asked: argparse.Namespace) -> int:
    now = datetime.now(UTC)
    for entry in read_keys(asked.file).keys:
        state = "good" if entry.expires > now else "out of date"
        scopes = ",".join(entry.scopes)
        print(f"{entry.id}  {entry.expires:%Y-%m-%d}  {state:<11}  {entry.owner}  {scopes}")
    return _DONE


def _revoke(asked: argparse.Namespace) -> int:
    with changed_keys(asked.file) as entries:
        kept = [e for e in entries if e.id != asked.id]
        if len(kept) == len(entries):
            raise KeysFault("there is no key of that id; `layoutcheck keys list` shows them.")
        entries[:] = kept
    print("Revoked. A running service refuses it within a second or two.", file=sys.stderr)
    return _DONE
